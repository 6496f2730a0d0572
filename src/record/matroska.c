/* matroska.c - Pictures into Matroska (RFC 9559), a file that plays up to where it ends.
 *
 *   EBML | Segment (size not known yet) | Info | Tracks | Cluster: t, block, block | Cluster ...
 *
 * A cluster's size, too, is written once it is over. Whatever is read before that ends where the
 * file ends. Times are kept in ticks of 10 us, finer than cameras stamp, so a cluster may last a
 * third of a second: its blocks count from its start in 16 bits.
 */
#include "record/matroska.h"

#include <string.h>

#include "base/fail.h"
#include "base/number.h"
#include "base/text.h"
#include "lampread/lampread.h" /* its version */

enum { TICK_NS = 10000, CLUSTER_TICKS = 25000 };

/* Element ids, RFC 8794 and RFC 9559. */
enum {
    ID_EBML = 0x1A45DFA3,
    ID_EBML_VERSION = 0x4286,
    ID_EBML_READ_VERSION = 0x42F7,
    ID_MAX_ID_LENGTH = 0x42F2,
    ID_MAX_SIZE_LENGTH = 0x42F3,
    ID_DOC_TYPE = 0x4282,
    ID_DOC_VERSION = 0x4287,
    ID_DOC_READ_VERSION = 0x4285,
    ID_SEGMENT = 0x18538067,
    ID_INFO = 0x1549A966,
    ID_TICK = 0x2AD7B1,
    ID_DURATION = 0x4489,
    ID_MUXER = 0x4D80,
    ID_WRITER = 0x5741,
    ID_VOID = 0xEC,
    ID_TRACKS = 0x1654AE6B,
    ID_TRACK = 0xAE,
    ID_TRACK_NUMBER = 0xD7,
    ID_TRACK_UID = 0x73C5,
    ID_TRACK_TYPE = 0x83,
    ID_LACING = 0x9C,
    ID_CODEC = 0x86,
    ID_VIDEO = 0xE0,
    ID_WIDTH = 0xB0,
    ID_HEIGHT = 0xBA,
    ID_FOURCC = 0x2EB524,
    ID_COLOUR = 0x55B0,
    ID_MATRIX = 0x55B1,
    ID_RANGE = 0x55B9,
    ID_TRANSFER = 0x55BA,
    ID_PROJECTION = 0x7670,
    ID_PROJECTION_TYPE = 0x7671,
    ID_ROLL = 0x7675,
    ID_CLUSTER = 0x1F43B675,
    ID_TIMESTAMP = 0xE7,
    ID_SIMPLE_BLOCK = 0xA3
};

/* Elements put together before they are written; what they hold is far smaller. */
struct bytes {
    unsigned char at[1024];
    size_t count;
};

static void add(struct bytes *bytes, const void *more, size_t count)
{
    if (count <= sizeof bytes->at - bytes->count) {
        memcpy(bytes->at + bytes->count, more, count);
        bytes->count += count;
    }
}

static void put_big(unsigned char *out, uint64_t value, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        out[i] = (unsigned char)(value >> (8 * (count - 1 - i)));
    }
}

static void add_big(struct bytes *bytes, uint64_t value, size_t count)
{
    unsigned char big[8];
    put_big(big, value, count);
    add(bytes, big, count);
}

/* An id carries its own length in its first bits. */
static void add_id(struct bytes *bytes, uint32_t id)
{
    add_big(bytes, id, id > 0xFFFFFF ? 4 : id > 0xFFFF ? 3 : id > 0xFF ? 2 : 1);
}

/* A size in eight bytes, the first one 1. */
static const uint64_t size_mark = UINT64_C(1) << 56;
static const uint64_t size_unknown = UINT64_C(0x01FFFFFFFFFFFFFF);

static void add_size(struct bytes *bytes, uint64_t size)
{
    add_big(bytes, size_mark | size, 8);
}

static void add_number(struct bytes *bytes, uint32_t id, uint64_t value)
{
    add_id(bytes, id);
    add_size(bytes, 8);
    add_big(bytes, value, 8);
}

static void add_string(struct bytes *bytes, uint32_t id, const char *text)
{
    add_id(bytes, id);
    add_size(bytes, strlen(text));
    add(bytes, text, strlen(text));
}

static void add_real(struct bytes *bytes, uint32_t id, double value)
{
    uint64_t image;
    memcpy(&image, &value, sizeof image);
    add_id(bytes, id);
    add_size(bytes, 8);
    add_big(bytes, image, 8);
}

static void add_master(struct bytes *bytes, uint32_t id, const struct bytes *content)
{
    add_id(bytes, id);
    add_size(bytes, content->count);
    add(bytes, content->at, content->count);
}

static void write_bytes(struct lamp_film *film, const struct bytes *bytes)
{
    (void)fwrite(bytes->at, 1, bytes->count, film->sink->file);
}

static int64_t offset_of(const struct lamp_film *film)
{
    return (int64_t)ftello(film->sink->file);
}

static void write_head(struct lamp_film *film)
{
    struct bytes head = {.count = 0};
    add_number(&head, ID_EBML_VERSION, 1);
    add_number(&head, ID_EBML_READ_VERSION, 1);
    add_number(&head, ID_MAX_ID_LENGTH, 4);
    add_number(&head, ID_MAX_SIZE_LENGTH, 8);
    add_string(&head, ID_DOC_TYPE, "matroska");
    add_number(&head, ID_DOC_VERSION, 4);
    add_number(&head, ID_DOC_READ_VERSION, 2);
    struct bytes all = {.count = 0};
    add_master(&all, ID_EBML, &head);
    add_id(&all, ID_SEGMENT);
    add_big(&all, size_unknown, 8);
    write_bytes(film, &all);
    film->segment_offset = offset_of(film);
}

/* The duration is known at the end: until then a void of its size stands there. */
enum { DURATION_BYTES = 2 + 8 + 8 };

static void write_info(struct lamp_film *film)
{
    struct bytes info = {.count = 0};
    add_number(&info, ID_TICK, TICK_NS);
    add_string(&info, ID_MUXER, "lampread " LAMPREAD_VERSION);
    add_string(&info, ID_WRITER, "lampread " LAMPREAD_VERSION);
    size_t before_void = info.count;
    static const unsigned char nothing[DURATION_BYTES - 1 - 8];
    add_id(&info, ID_VOID);
    add_size(&info, sizeof nothing);
    add(&info, nothing, sizeof nothing);
    struct bytes all = {.count = 0};
    add_master(&all, ID_INFO, &info);
    film->duration_offset =
        offset_of(film) + (int64_t)(all.count - info.count) + (int64_t)before_void;
    write_bytes(film, &all);
}

/* The planar form of these pictures; NULL where there is none. */
static const char *fourcc_of(const struct lamp_film *film)
{
    bool is_half_wide = film->chroma_width_px == (film->width_px + 1) / 2;
    bool is_half_high = film->chroma_height_px == (film->height_px + 1) / 2;
    bool is_wide = film->chroma_width_px == film->width_px;
    bool is_high = film->chroma_height_px == film->height_px;
    if (film->chroma_width_px == 0) {
        return "Y800";
    }
    return is_half_wide && is_half_high ? "I420"
           : is_half_wide && is_high    ? "Y42B"
           : is_wide && is_high         ? "444P"
                                        : NULL;
}

/* ITU-T H.273 code points. */
static void add_colour(struct bytes *video, const struct lamp_frame *frame)
{
    static const unsigned char matrix[] = {
        [LAMP_MATRIX_BT601] = 6, [LAMP_MATRIX_BT709] = 1, [LAMP_MATRIX_BT2020] = 9};
    static const unsigned char transfer[] = {[LAMP_TRANSFER_SRGB] = 13,
                                             [LAMP_TRANSFER_BT709] = 1,
                                             [LAMP_TRANSFER_LINEAR] = 8,
                                             [LAMP_TRANSFER_PQ] = 16,
                                             [LAMP_TRANSFER_HLG] = 18};
    struct bytes colour = {.count = 0};
    add_number(&colour, ID_MATRIX, matrix[frame->matrix]);
    add_number(&colour, ID_RANGE, frame->is_full_range ? 2 : 1);
    add_number(&colour, ID_TRANSFER, transfer[frame->transfer]);
    add_master(video, ID_COLOUR, &colour);
}

/* The turn that shows it upright, counter-clockwise as RFC 9559 has it. */
static void add_turn(struct bytes *video, int rotation_deg)
{
    struct bytes projection = {.count = 0};
    add_number(&projection, ID_PROJECTION_TYPE, 0);
    add_real(&projection, ID_ROLL, rotation_deg == 270 ? 90 : -rotation_deg);
    add_master(video, ID_PROJECTION, &projection);
}

static void write_tracks(struct lamp_film *film, const struct lamp_frame *first, int rotation_deg)
{
    struct bytes video = {.count = 0};
    add_number(&video, ID_WIDTH, (uint64_t)film->width_px);
    add_number(&video, ID_HEIGHT, (uint64_t)film->height_px);
    if (!film->is_jpeg) {
        add_string(&video, ID_FOURCC, fourcc_of(film));
        add_colour(&video, first);
    }
    if (rotation_deg != 0) {
        add_turn(&video, rotation_deg);
    }
    struct bytes track = {.count = 0};
    add_number(&track, ID_TRACK_NUMBER, 1);
    add_number(&track, ID_TRACK_UID, 1);
    add_number(&track, ID_TRACK_TYPE, 1);
    add_number(&track, ID_LACING, 0);
    add_string(&track, ID_CODEC, film->is_jpeg ? "V_MJPEG" : "V_UNCOMPRESSED");
    add_master(&track, ID_VIDEO, &video);
    struct bytes tracks = {.count = 0};
    add_master(&tracks, ID_TRACK, &track);
    struct bytes all = {.count = 0};
    add_master(&all, ID_TRACKS, &tracks);
    write_bytes(film, &all);
}

enum lamp_err lamp_film_begin(struct lamp_film *film, struct lamp_sink *sink,
                              const struct lamp_frame *first, int rotation_deg,
                              struct lamp_error *error)
{
    bool has_chroma = first->u.at != NULL && first->v.at != NULL;
    *film = (struct lamp_film){.sink = sink,
                               .is_jpeg = first->coded != NULL,
                               .width_px = first->y.width_px,
                               .height_px = first->y.height_px,
                               .chroma_width_px = has_chroma ? first->u.width_px : 0,
                               .chroma_height_px = has_chroma ? first->u.height_px : 0,
                               .first_ns = first->t_ns};
    if (!film->is_jpeg && fourcc_of(film) == NULL) {
        return lamp_fail(error, LAMP_BAD_SOURCE, "",
                         "pictures with colour of %d x %d pixels cannot be kept",
                         film->chroma_width_px, film->chroma_height_px);
    }
    write_head(film);
    write_info(film);
    write_tracks(film, first, rotation_deg);
    return LAMP_OK;
}

static int64_t tick_of(const struct lamp_film *film, int64_t t_ns)
{
    return (t_ns - film->first_ns + TICK_NS / 2) / TICK_NS;
}

bool lamp_film_is_part_full(const struct lamp_film *film, int64_t t_ns)
{
    return film->cluster_offset != 0 && tick_of(film, t_ns) - film->cluster_tick >= CLUSTER_TICKS;
}

static void patch_size(struct lamp_film *film, int64_t content_offset)
{
    unsigned char size[8];
    put_big(size, size_mark | (uint64_t)(offset_of(film) - content_offset), 8);
    lamp_sink_patch(film->sink, content_offset - 8, size, sizeof size);
}

void lamp_film_end_cluster(struct lamp_film *film)
{
    if (film->cluster_offset != 0) {
        patch_size(film, film->cluster_offset);
    }
    film->cluster_offset = 0;
}

static void begin_cluster(struct lamp_film *film, int64_t tick)
{
    struct bytes begin = {.count = 0};
    add_id(&begin, ID_CLUSTER);
    add_big(&begin, size_unknown, 8);
    write_bytes(film, &begin);
    film->cluster_offset = offset_of(film);
    film->cluster_tick = tick;
    struct bytes time = {.count = 0};
    add_number(&time, ID_TIMESTAMP, (uint64_t)tick);
    write_bytes(film, &time);
}

static void write_plane(struct lamp_film *film, const struct lamp_plane *plane, int bits)
{
    for (int y = 0; y < plane->height_px; y++) {
        const unsigned char *row = (const unsigned char *)plane->at + y * plane->stride_bytes;
        if (bits == 8) {
            (void)fwrite(row, 1, (size_t)plane->width_px, film->sink->file);
            continue;
        }
        for (int x = 0; x < plane->width_px; x++) {
            uint16_t deep;
            memcpy(&deep, row + (size_t)x * sizeof deep, sizeof deep);
            (void)fputc(deep >> (bits - 8), film->sink->file);
        }
    }
}

static size_t picture_size(const struct lamp_film *film)
{
    return (size_t)film->width_px * (size_t)film->height_px +
           2 * (size_t)film->chroma_width_px * (size_t)film->chroma_height_px;
}

static void write_picture(struct lamp_film *film, const struct lamp_frame *frame)
{
    if (film->is_jpeg) {
        (void)fwrite(frame->coded, 1, frame->coded_size, film->sink->file);
        return;
    }
    write_plane(film, &frame->y, frame->bits);
    if (film->chroma_width_px > 0) {
        write_plane(film, &frame->u, frame->bits);
        write_plane(film, &frame->v, frame->bits);
    }
}

enum lamp_err lamp_film_push(struct lamp_film *film, const struct lamp_frame *frame,
                             struct lamp_error *error)
{
    bool is_same = frame->y.width_px == film->width_px && frame->y.height_px == film->height_px &&
                   (film->is_jpeg ? frame->coded != NULL
                                  : film->chroma_width_px == 0 ||
                                        (frame->u.at != NULL && frame->v.at != NULL));
    if (!is_same) {
        return lamp_fail(error, LAMP_BAD_SOURCE, "", "the pictures change their form");
    }
    int64_t tick = tick_of(film, frame->t_ns);
    if (film->cluster_offset == 0) {
        begin_cluster(film, tick);
    }
    size_t size = film->is_jpeg ? frame->coded_size : picture_size(film);
    struct bytes block = {.count = 0};
    add_id(&block, ID_SIMPLE_BLOCK);
    add_size(&block, 4 + size);
    add_big(&block, 0x81, 1); /* the track */
    add_big(&block, (uint64_t)(tick - film->cluster_tick), 2);
    add_big(&block, 0x80, 1); /* needs no other picture */
    write_bytes(film, &block);
    write_picture(film, frame);
    return LAMP_OK;
}

void lamp_film_finish(struct lamp_film *film, int64_t duration_ns)
{
    lamp_film_end_cluster(film);
    patch_size(film, film->segment_offset);
    struct bytes duration = {.count = 0};
    add_real(&duration, ID_DURATION, (double)duration_ns / TICK_NS);
    lamp_sink_patch(film->sink, film->duration_offset, duration.at, duration.count);
}
