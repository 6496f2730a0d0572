/* page.c - Lines for people: a label at the left, text wrapped beside it. */
#include "report/page.h"

#include <stdarg.h>
#include <string.h>

static bool begins_character(char byte)
{
    return ((unsigned char)byte & 0xc0U) != 0x80U;
}

int lamp_page_columns(const char *text, size_t size)
{
    int columns = 0;
    for (size_t i = 0; i < size; i++) {
        columns += begins_character(text[i]);
    }
    return columns;
}

/* Whether a line may end here; a percent sign stays with its number. */
static bool is_break(const char *text, size_t i)
{
    return text[i] == '\0' || (text[i] == ' ' && text[i + 1] != '%');
}

/* The bytes of `text` that fit `columns`, ending before a space where there is one; at least one
 * word. */
static size_t fitting(const char *text, int columns)
{
    size_t best = 0;
    int used = 0;
    for (size_t i = 0; used <= columns || best == 0; i++) {
        if (is_break(text, i)) {
            best = i;
        }
        if (text[i] == '\0') {
            break;
        }
        used += begins_character(text[i]);
    }
    return best;
}

static const char *ink_of(const struct lamp_page *page, enum lamp_ink ink)
{
    if (!page->has_colour) {
        return "";
    }
    static const char *const codes[] = {
        [LAMP_INK_PLAIN] = "\033[0m", [LAMP_INK_HEADING] = "\033[1m", [LAMP_INK_LABEL] = "\033[2m"};
    return codes[ink];
}

static void add_label(struct lamp_page *page, const char *label)
{
    int rest = LAMP_PAGE_INDENT - 2 - lamp_page_columns(label, strlen(label));
    bool has_ink = label[0] != '\0';
    lamp_text_add(&page->text, "  %s%s%s%*s", has_ink ? ink_of(page, LAMP_INK_LABEL) : "", label,
                  has_ink ? ink_of(page, LAMP_INK_PLAIN) : "", rest > 0 ? rest : 1, "");
}

static void add_wrapped(struct lamp_page *page, const char *text, int first, int further)
{
    int room = page->width - first;
    for (;;) {
        size_t size = fitting(text, room);
        lamp_text_add(&page->text, "%.*s\n", (int)size, text);
        text += size;
        text += strspn(text, " ");
        if (*text == '\0') {
            return;
        }
        lamp_text_add(&page->text, "%*s", further, "");
        room = page->width - further;
    }
}

void lamp_page_heading(struct lamp_page *page, const char *text)
{
    lamp_text_add(&page->text, "%s", ink_of(page, LAMP_INK_HEADING));
    add_wrapped(page, text, 0, 4);
    lamp_text_add(&page->text, "%s", ink_of(page, LAMP_INK_PLAIN));
}

void lamp_page_item(struct lamp_page *page, const char *label, const char *text)
{
    add_label(page, label);
    add_wrapped(page, text, LAMP_PAGE_INDENT, LAMP_PAGE_INDENT);
}

void lamp_page_say(struct lamp_page *page, const char *label, const char *format, ...)
{
    char text[2048];
    va_list rest;
    va_start(rest, format);
    (void)vsnprintf(text, sizeof text, format, rest);
    va_end(rest);
    lamp_page_item(page, label, text);
}

void lamp_page_line(struct lamp_page *page, const char *label, const char *line, int colour)
{
    add_label(page, label);
    if (page->has_colour && colour != 0) {
        lamp_text_add(&page->text, "\033[%dm%s\033[0m\n", colour, line);
    } else {
        lamp_text_add(&page->text, "%s\n", line);
    }
}

void lamp_page_gap(struct lamp_page *page)
{
    lamp_text_add(&page->text, "\n");
}

enum lamp_err lamp_page_finish(struct lamp_page *page, FILE *out)
{
    enum lamp_err answer = LAMP_OK;
    if (page->text.failed) {
        answer = LAMP_NO_MEMORY;
    } else if (page->text.length > 0 &&
               fwrite(page->text.at, 1, page->text.length, out) != page->text.length) {
        answer = LAMP_CANNOT_WRITE;
    }
    if (answer == LAMP_OK && fflush(out) != 0) {
        answer = LAMP_CANNOT_WRITE;
    }
    lamp_text_fini(&page->text);
    return answer;
}
