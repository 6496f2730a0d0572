/* clip.c - Bytes as a clip, in whatever container they begin like. */
#include "fuzz/fuzz.h"

/* A few bytes can claim any number of pictures. */
enum { FRAMES_MAX = 24 };

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    struct lamp_source *source = fuzz_open(bytes, size, ".clip");
    if (source != NULL) {
        (void)fuzz_read(source, FRAMES_MAX);
    }
    lamp_source_free(source);
    return 0;
}
