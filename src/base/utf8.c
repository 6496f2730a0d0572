/* utf8.c - Text as Unicode characters: read, check, shorten without cutting one in two. */
#include "base/utf8.h"

static size_t length_of(unsigned char first)
{
    if (first < 0x80) {
        return 1;
    }
    if (first >= 0xc2 && first < 0xe0) {
        return 2;
    }
    if (first >= 0xe0 && first < 0xf0) {
        return 3;
    }
    return first >= 0xf0 && first < 0xf5 ? 4 : 0;
}

size_t lamp_utf8_read(const char *text, size_t left, uint32_t *out)
{
    static const uint32_t least[] = {0, 0, 0x80, 0x800, 0x10000};
    static const unsigned char first_bits[] = {0, 0x7f, 0x1f, 0x0f, 0x07};
    size_t length = left == 0 ? 0 : length_of((unsigned char)text[0]);
    if (length == 0 || length > left) {
        return 0;
    }
    uint32_t character = (uint32_t)(unsigned char)text[0] & first_bits[length];
    for (size_t i = 1; i < length; i++) {
        unsigned char byte = (unsigned char)text[i];
        if ((byte & 0xc0) != 0x80) {
            return 0;
        }
        character = character << 6 | (byte & 0x3fU);
    }
    bool is_surrogate = character >= 0xd800 && character < 0xe000;
    if (character < least[length] || character > 0x10ffff || is_surrogate) {
        return 0;
    }
    *out = character;
    return length;
}

bool lamp_utf8_is_control(uint32_t character)
{
    return character < 0x20 || (character >= 0x7f && character < 0xa0) ||
           (character >= 0x2028 && character <= 0x202e) ||
           (character >= 0x2066 && character <= 0x2069) || character == 0xfeff;
}

size_t lamp_utf8_fit(const char *text, size_t size, size_t room)
{
    if (size <= room) {
        return size;
    }
    while (room > 0 && ((unsigned char)text[room] & 0xc0) == 0x80) {
        room--;
    }
    return room;
}
