/* encode.h - Frames into a file: the only place that knows the media library's encoders. */
#ifndef LAMP_RENDER_ENCODE_H
#define LAMP_RENDER_ENCODE_H

#include "lampread/render.h"
#include "render/palette.h"

/** What is written, and how. */
struct encode_rules {
    const char *name; /**< What errors call it. */
    const char
        *path; /**< Where to write: a file, or a pattern of numbered stills ("x/%06d.png"). */
    const char *container; /**< The media library's name for it: "mp4", "image2", ... */
    const char *codec;     /**< "h264", "hevc", ... as lamp_render_rules has them. */
    int quality;           /**< 0 to 100. */
    int rotation_deg;
    double rate_hz; /**< Nominal. */
    const struct lamp_scene_rules *scene;
    const struct palette *palette; /**< GIF: its colours. */
};

struct encoder;

/** The codec that suits a container where none was asked for. Static. */
const char *encode_codec_for(const char *container);

/** Open the file. @param out freed by the caller. @return LAMP_OK, LAMP_BAD_USE, LAMP_CANNOT_WRITE,
 * LAMP_NO_MEMORY. */
enum lamp_err encoder_new(const struct encode_rules *rules, struct encoder **out,
                          struct lamp_error *error);

/** Add a frame; `index` numbers stills. @return LAMP_OK, LAMP_CANNOT_WRITE, LAMP_NO_MEMORY. */
enum lamp_err encoder_push(struct encoder *encoder, const struct lamp_frame *frame, uint64_t index,
                           struct lamp_error *error);

/** Write what is still held back and close the file. @return LAMP_OK, LAMP_CANNOT_WRITE. */
enum lamp_err encoder_finish(struct encoder *encoder, struct lamp_error *error);

/** Free; an unfinished file stays as it is. NULL is fine. */
void encoder_free(struct encoder *encoder);

#endif
