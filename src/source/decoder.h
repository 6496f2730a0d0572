/* decoder.h - Coded pictures in, decoded pictures out, damaged ones left out. */
#ifndef LAMP_SOURCE_DECODER_H
#define LAMP_SOURCE_DECODER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"

struct AVCodecParameters;
struct AVFrame;
struct AVPacket;

/** Most pixels of a picture; damaged files claim more. */
#define LAMP_PICTURE_PIXELS_MAX INT64_C(67108864)

/** Most decoder threads that are taken unasked: each keeps a picture in memory. */
#define LAMP_DECODER_THREADS_MAX 8

/** Bytes after those of a still that must be there and be zero. */
#define LAMP_STILL_PADDING 64

/** A time stamp that is not there. */
#define LAMP_NO_STAMP INT64_MIN

/**
 * What a failure of the media library means: it says that memory ran out also where a damaged file
 * claims more than any memory holds.
 * @param code  as the library answered, below 0.
 * @return LAMP_NO_MEMORY if memory is short; LAMP_BAD_SOURCE.
 */
enum lamp_err lamp_decoder_failure(int code);

struct lamp_decoder;

/** A decoded picture. */
struct lamp_picture {
    struct AVFrame *frame; /**< The decoder's; whoever keeps it takes its reference. */
    int64_t stamp;         /**< In the stream's ticks, LAMP_NO_STAMP where there is none. */
    int64_t length;        /**< How long it lasts, in the stream's ticks, 0 where not known. */
    int64_t exposure_ns;   /**< As the camera wrote it into the picture, 0 where it did not. */
    int width_px;
    int height_px;
    int turn_deg; /**< As lamp_picture_turn_deg, -1 where the picture does not say. */
    const uint8_t
        *coded; /**< The JPEG it was decoded from, NULL where it was none; borrowed as frame. */
    size_t coded_size;
};

/**
 * Make a decoder for a stream.
 * @param thread_count  0: one more than there are processors, as the library likes, but at most
 * LAMP_DECODER_THREADS_MAX.
 * @param out           freed by the caller.
 * @return LAMP_OK, LAMP_BAD_SOURCE (this coding cannot be decoded), LAMP_NO_MEMORY.
 */
enum lamp_err lamp_decoder_new(const struct AVCodecParameters *coded, int thread_count,
                               struct lamp_decoder **out);

/** Make a decoder for the coding of one still, told from its first bytes. As lamp_decoder_new. */
enum lamp_err lamp_decoder_new_still(const unsigned char *bytes, size_t size,
                                     struct lamp_decoder **out);

/** Whether a file begins as a still picture does. */
bool lamp_decoder_is_still(const unsigned char *bytes, size_t size);

/** Whether the still's coding is this decoder's. */
bool lamp_decoder_suits(const struct lamp_decoder *decoder, const unsigned char *bytes,
                        size_t size);

/** The common name of the coding, static: "h264". */
const char *lamp_decoder_coding(const struct AVCodecParameters *coded);

/** Whether this coding is of photographs and drawings (JPEG, PNG, GIF), not of television. */
bool lamp_decoder_is_photo(const struct lamp_decoder *decoder);

/** Whether each picture says how long it stands (GIF), so that a long one has swallowed none. */
bool lamp_decoder_is_paced(const struct lamp_decoder *decoder);

/**
 * Give one packet, after all pictures were taken. @param packet  NULL: there are no more.
 * @return LAMP_OK, LAMP_BAD_SOURCE (damaged: it was left out), LAMP_NO_MEMORY.
 */
enum lamp_err lamp_decoder_feed(struct lamp_decoder *decoder, const struct AVPacket *packet);

/** Give one still, with LAMP_STILL_PADDING zero bytes behind it. As lamp_decoder_feed. */
enum lamp_err lamp_decoder_feed_still(struct lamp_decoder *decoder, unsigned char *bytes,
                                      size_t size);

/**
 * Take the next picture.
 * @param out  its frame is borrowed until the next call.
 * @return LAMP_OK; LAMP_END: none until more was fed; LAMP_BAD_SOURCE: a damaged one was left out;
 * LAMP_NO_MEMORY.
 */
enum lamp_err lamp_decoder_take(struct lamp_decoder *decoder, struct lamp_picture *out);

/** Free; NULL is fine. */
void lamp_decoder_free(struct lamp_decoder *decoder);

#endif
