/* source.h - Where light comes from: clips, stills and cameras give frames, traces samples, VCD and pins edges. */
#ifndef LAMPREAD_SOURCE_H
#define LAMPREAD_SOURCE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/edge.h"
#include "lampread/error.h"
#include "lampread/trace.h"

/** How many frames a source keeps alive: a frame stays readable until this many more were taken; a whole frame of a camera until
 * this many more whole ones were. */
#define LAMP_FRAMES_KEPT 4

/** Most lamps that one trace or VCD file may name. */
#define LAMP_SOURCE_LAMPS_MAX 64

/** Most warnings one source keeps; further ones are only counted. */
#define LAMP_SOURCE_WARNINGS_MAX 16

/** What kind of thing is read. */
enum lamp_source_kind {
    LAMP_SOURCE_CLIP,   /**< A video file: frames. */
    LAMP_SOURCE_STILLS, /**< A folder of numbered pictures: frames. */
    LAMP_SOURCE_TRACE,  /**< A CSV of brightness: samples. */
    LAMP_SOURCE_EDGES,  /**< A VCD of edges, or a CSV of flashes: edges. */
    LAMP_SOURCE_CAMERA, /**< A camera, live: frames. */
    LAMP_SOURCE_PIN     /**< A photodiode on a GPIO line, live: edges. */
};

/** One plane of a picture, borrowed from the source. */
struct lamp_plane {
    const void *at;         /**< First pixel: uint8_t where bits is 8, else uint16_t; NULL if absent. */
    ptrdiff_t stride_bytes; /**< From one row to the next. */
    int width_px;           /**< Pixels in a row. */
    int height_px;          /**< Rows. */
};

/** How Y, U, V are made from R, G, B (ITU-T H.273 MatrixCoefficients, the ones that occur). */
enum lamp_matrix { LAMP_MATRIX_BT601, LAMP_MATRIX_BT709, LAMP_MATRIX_BT2020 };

/** How light became code values (ITU-T H.273 TransferCharacteristics, the ones that occur). */
enum lamp_transfer { LAMP_TRANSFER_SRGB, LAMP_TRANSFER_BT709, LAMP_TRANSFER_LINEAR, LAMP_TRANSFER_PQ, LAMP_TRANSFER_HLG };

/** A part of a picture, px of luma; all of it where end_row_px is 0. */
struct lamp_picture_part {
    int first_column_px;
    int end_column_px; /**< First column after it. */
    int first_row_px;
    int end_row_px;    /**< First row after it. */
};

/** One picture as decoded, before any rotation. Planes are borrowed, see LAMP_FRAMES_KEPT. */
struct lamp_frame {
    int64_t t_ns;               /**< Time stamp on the source's clock; never decreases. */
    int64_t exposure_ns;        /**< Exposure time, 0 where the source does not know. */
    int bits;                   /**< Bits per sample, 8 to 16. */
    struct lamp_plane y;        /**< Luma, always there. */
    struct lamp_plane u;        /**< Cb, at NULL for grey pictures; may be subsampled either way. */
    struct lamp_plane v;        /**< Cr, as u. */
    enum lamp_matrix matrix;    /**< Meaning of u and v. */
    enum lamp_transfer transfer;/**< Transfer curve. */
    bool is_full_range;         /**< True: 0..255; false: 16..235 (scaled to bits). */
    bool is_partial;            /**< Only `part` was decoded, see lamp_source_focus; the rest holds anything. */
    struct lamp_picture_part part; /**< Partial: where the planes are valid. */
    bool is_after_hole;         /**< Live: so many frames before it are missing that the light may have changed unseen. */
    const uint8_t *coded;       /**< The whole JPEG it was decoded from, NULL where it was none; borrowed until the next item. */
    size_t coded_size;          /**< Bytes of it. */
};

/** What a source says of itself; grows truer while it is read, exact after LAMP_END. */
struct lamp_source_info {
    enum lamp_source_kind kind; /**< What is read. */
    const char *name;           /**< The name as given; borrowed until the source is freed. */
    double duration_s;          /**< From first to last time stamp plus one frame; 0 if nothing was read. */
    uint64_t frame_count;       /**< Frames, samples or edges given so far. */
    double rate_hz;             /**< Usual frame or sample rate of a lamp: the mean about the median interval; 0 for edges. */
    uint64_t dropped_count;     /**< Frames that the time stamps say are missing. */
    int width_px;               /**< Picture width as decoded, 0 where there is none. */
    int height_px;              /**< Picture height as decoded. */
    int rotation_deg;           /**< Clockwise turn that shows it upright: 0, 90, 180 or 270. */
    int64_t origin_ns;          /**< Live: what CLOCK_MONOTONIC showed at time 0 of the source's clock; 0 for recordings. */
    bool is_live;               /**< It answers LAMP_NOT_YET; a live pin's duration_s runs on between its edges. */
};

/** What one call to lamp_source_next gives. */
enum lamp_item_kind {
    LAMP_ITEM_FRAME,
    LAMP_ITEM_SAMPLE,
    LAMP_ITEM_EDGE,
    LAMP_ITEM_BREAK /**< Where edges are given: the lamp is out of view from here on, until an edge tells its state anew. */
};

/** One frame, sample or edge. */
struct lamp_item {
    enum lamp_item_kind kind;
    size_t lamp; /**< Which lamp a sample, edge or break is of: an index for lamp_source_lamp_name. */
    union {
        int64_t break_ns; /**< When the lamp went out of view. */
        struct lamp_frame frame;
        struct lamp_sample sample;
        struct lamp_edge edge; /**< One with sd 0 is no change but the value from that time on: at the start of a VCD or pin, or
                                    after edges of a pin were lost; what lies between it and the edge before is not known. */
    };
};

/** When the item was: a frame's or sample's start of exposure, an edge's time. */
int64_t lamp_item_time_ns(const struct lamp_item *item);

/** Which resistor holds a GPIO line that nothing drives. */
enum lamp_pull { LAMP_PULL_AS_IS, LAMP_PULL_NONE, LAMP_PULL_UP, LAMP_PULL_DOWN };

/** How a source is opened. */
struct lamp_source_rules {
    double stills_rate_hz; /**< Frame rate of numbered stills, 0.5 to 1e6 Hz; default 30. */
    double replay_speed;   /**< Of "replay:FILE", 1 is its own pace, 0.01 to 1e6; 0: as fast as can be; default 1. */
    int thread_count;      /**< Decoder threads, 0: as many as the library likes; default 0. */
    int64_t wait_ns;       /**< Live: how long lamp_source_next may wait before it answers LAMP_NOT_YET; default 50 ms. */
    struct {
        int width_px;      /**< Wanted width, 0: what reads lamps best; default 0. */
        int height_px;     /**< Wanted height, 0: as width. */
        double rate_hz;    /**< Wanted frame rate, 0: what reads lamps best; default 0. */
        int64_t exposure_ns; /**< Wanted exposure, 0: short enough for lamps; default 0. */
        bool leaves_controls; /**< True: set no control of the camera; default false. */
    } camera;
    struct {
        enum lamp_pull pull;  /**< Default LAMP_PULL_AS_IS. */
        bool is_active_low;   /**< True: the line is low when the lamp is lit; default false. */
        int64_t debounce_ns;  /**< Levels that last less are left out, 0 to 1 s; 0: none; default 0. */
    } pin;
};

struct lamp_source;

/** The default rules. */
struct lamp_source_rules lamp_source_rules_default(void);

/**
 * Open a file, a folder, a camera ("/dev/video0") or a pin ("gpiochip0:17", "/dev/gpiochip0:17", or a line's name); the kind is told
 * from the name and the content. A file of that name comes before a line of that name. "replay:FILE" gives a recording as if it were
 * live, at rules.replay_speed.
 * @param name   not NULL.
 * @param rules  not NULL.
 * @param out    set to the source, which the caller frees; untouched on failure.
 * @param error  may be NULL.
 * @return LAMP_OK, LAMP_BAD_SOURCE (missing, unreadable, no video, nothing to read), LAMP_BAD_USE (a rule out of range),
 *         LAMP_NO_MEMORY.
 * @note Silences the log of the media libraries, which is one for the whole process.
 */
enum lamp_err lamp_source_open(const char *name, const struct lamp_source_rules *rules, struct lamp_source **out,
                               struct lamp_error *error);

/**
 * Take the next frame, sample or edge.
 * @return LAMP_OK; LAMP_NOT_YET (live only) when nothing came within rules.wait_ns; LAMP_BAD_SOURCE also when a live source goes away
 *         (unplugged), with what to do about it; LAMP_END when there is no more (a damaged rest ends the source with a warning);
 *         LAMP_BAD_SOURCE if not one item could be read, or most rows of a trace or words of a VCD cannot be, or
 *         it names more than LAMP_SOURCE_LAMPS_MAX lamps; LAMP_NO_MEMORY.
 */
enum lamp_err lamp_source_next(struct lamp_source *source, struct lamp_item *out, struct lamp_error *error);

/** What is known of the source by now. @param out not NULL; its name is borrowed until the source is freed. */
void lamp_source_describe(const struct lamp_source *source, struct lamp_source_info *out);

/** Share of the input read so far, 0 to 1; negative where it cannot be known. */
double lamp_source_progress(const struct lamp_source *source);

/** Lamps that a trace or VCD named so far; 0 for pictures. */
size_t lamp_source_lamp_count(const struct lamp_source *source);

/** Name of lamp `index` (< count), borrowed until the source is freed. */
const char *lamp_source_lamp_name(const struct lamp_source *source, size_t index);

/** The `index`-th warning in words, NULL when there are no more; borrowed until the source is freed. */
const char *lamp_source_warning(const struct lamp_source *source, size_t index);

/** The `index`-th thing that was set on a device to read it ("exposure set to 8.3 ms while the camera is read"), in words; NULL when
 * there are no more. Borrowed until the source is freed, which puts everything back as it was. */
const char *lamp_source_setting(const struct lamp_source *source, size_t index);

/**
 * Say which part of the pictures matters from the next frame on, so that a camera need not decode the rest. Frames then are partial,
 * but for about two whole ones a second, and hold at least that part; other sources take no heed.
 */
void lamp_source_focus(struct lamp_source *source, const struct lamp_picture_part *part);

/** Most cameras that are listed, and most modes of one that are told. */
#define LAMP_CAMERAS_MAX      16
#define LAMP_CAMERA_MODES_MAX 64

/** One way a camera takes pictures. */
struct lamp_camera_mode {
    char format[5]; /**< Its four characters: "MJPG". */
    int width_px;
    int height_px;
    double rate_hz; /**< 0 where the camera does not say. */
};

/** A camera of this machine, or a device that looks like one. Holds nothing to free. */
struct lamp_camera {
    char path[64];                     /**< "/dev/video0": what lamp_source_open takes. */
    char name[64];                     /**< As it calls itself, "" where it could not be asked. */
    char driver[64];                   /**< Of the kernel. */
    char trouble[LAMP_SENTENCE_MAX];   /**< Why it cannot be read, and what to do; "" where it can. */
    size_t mode_count;
    size_t mode_best;                  /**< Which is taken where nothing is wished for; mode_count where none can be read. */
    size_t mode_left_out;              /**< Further ones that are not told. */
    struct lamp_camera_mode mode[LAMP_CAMERA_MODES_MAX];
};

/** The cameras of this machine. Holds nothing to free. */
struct lamp_camera_list {
    size_t count;
    struct lamp_camera camera[LAMP_CAMERAS_MAX]; /**< By the number of their device. */
    size_t hidden_count;                         /**< Devices beside them that carry no pictures, such as metadata. */
    char missing[LAMP_SENTENCE_MAX];             /**< Where there is no camera: why, and what to do; else "". */
};

/**
 * List the cameras of this machine. Each is opened for a moment; nothing is set on it.
 * @param out  the caller's (about 50 kB), filled in.
 */
void lamp_source_list_cameras(struct lamp_camera_list *out);

/** Close and free, after putting back whatever was set on a device; NULL is fine. */
void lamp_source_free(struct lamp_source *source);

/** Longest name of a chip, a line or its user, bytes with the closing zero: the kernel's own limit. */
#define LAMP_PIN_NAME_MAX 32

/** Most chips that are listed, and most lines of one. */
#define LAMP_PIN_CHIPS_MAX 128
#define LAMP_PIN_LINES_MAX 4096

/** One GPIO line. */
struct lamp_pin {
    unsigned offset;              /**< Its number on the chip. */
    char name[LAMP_PIN_NAME_MAX]; /**< "" if it has none; need not be the only one of that name. */
    char user[LAMP_PIN_NAME_MAX]; /**< Who uses it, "" if nobody says so. */
    bool is_used;                 /**< It cannot be read by others. */
    bool is_output;               /**< It drives what hangs on it. */
};

/** One GPIO chip. */
struct lamp_pin_chip {
    char name[LAMP_PIN_NAME_MAX];    /**< "gpiochip0". */
    char label[LAMP_PIN_NAME_MAX];   /**< What the driver calls it; "" if that is not known. */
    struct lamp_pin *pin;            /**< Its lines in the order of their numbers, owned by the list; NULL if they are not known. */
    size_t pin_count;                /**< How many. */
    char trouble[LAMP_SENTENCE_MAX]; /**< Why the lines are not known and what to do; "" if they are. */
};

/** The chips of a machine. Owns all that it points to. */
struct lamp_pin_list {
    const struct lamp_pin_chip *chip; /**< In the order of their numbers. */
    size_t chip_count;                /**< How many. */
    char trouble[LAMP_SENTENCE_MAX];  /**< Why there is none and what to do; "" if there is one. */
};

/**
 * List the GPIO chips of this machine and their lines, as they are now. That a chip may not be opened is told in its place.
 * @param out  freed by the caller with lamp_pin_list_free; untouched on failure.
 * @return LAMP_OK, also where there is no chip; LAMP_FULL if there are more than LAMP_PIN_CHIPS_MAX; LAMP_NO_MEMORY.
 */
enum lamp_err lamp_pin_list_new(struct lamp_pin_list **out);

/** Free; NULL is fine. */
void lamp_pin_list_free(struct lamp_pin_list *list);

#endif
