/* list_pins.c - The GPIO lines of this machine for lampread sources, or what is missing. */
#include "cli/list_pins.h"

#include <stdio.h>
#include <string.h>

#include "cli/json_text.h"
#include "lampread/source.h"

static bool is_free(const struct lamp_pin *pin)
{
    return !pin->is_used && !pin->is_output;
}

/* -- text -- */

/* Lines without a name that are alike are told in one row. */
static bool are_one_row(const struct lamp_pin *a, const struct lamp_pin *b)
{
    return a->name[0] == '\0' && b->name[0] == '\0' && a->is_used == b->is_used &&
           a->is_output == b->is_output && strcmp(a->user, b->user) == 0;
}

static void print_state(struct lamp_text *out, const struct lamp_pin *pin)
{
    if (pin->is_used && pin->user[0] != '\0') {
        lamp_text_add(out, "  in use by \"%s\"", pin->user);
    } else if (pin->is_used) {
        lamp_text_add(out, "  in use");
    } else if (pin->is_output) {
        lamp_text_add(out, "  an output");
    }
    lamp_text_add(out, "\n");
}

static void print_lines(struct lamp_text *out, const struct lamp_pin_chip *chip)
{
    for (size_t i = 0, last = 0; i < chip->pin_count; i = last + 1) {
        const struct lamp_pin *pin = &chip->pin[i];
        char name[LAMP_PIN_NAME_MAX + 16];
        for (last = i; last + 1 < chip->pin_count && are_one_row(pin, &chip->pin[last + 1]);) {
            last++;
        }
        (void)snprintf(name, sizeof name, "%s:%u", chip->name, pin->offset);
        lamp_text_add(out, "    %-14s", name);
        if (last > i) {
            lamp_text_add(out, "  to %s:%u", chip->name, chip->pin[last].offset);
        } else {
            lamp_text_add(out, "%s%s", pin->name[0] == '\0' ? "" : "  ", pin->name);
        }
        print_state(out, pin);
    }
}

static void print_chip(struct lamp_text *out, const struct lamp_pin_chip *chip)
{
    lamp_text_add(out, "%s%s%s\n", chip->name, chip->label[0] == '\0' ? "" : "  ", chip->label);
    if (chip->trouble[0] != '\0') {
        lamp_text_add(out, "    cannot be read: %s\n", chip->trouble);
    }
    print_lines(out, chip);
}

/* -- JSON -- */

static void add_pin(struct lamp_text *out, const char *chip, const struct lamp_pin *pin)
{
    lamp_text_add(out, "{\"source\": \"%s:%u\", ", chip, pin->offset);
    json_text_member(out, "name", pin->name);
    lamp_text_add(out, ", \"direction\": \"%s\", \"used\": %s, ",
                  pin->is_output ? "output" : "input", pin->is_used ? "true" : "false");
    json_text_member(out, "user", pin->user);
    lamp_text_add(out, "}");
}

static void add_chip(struct lamp_text *out, const struct lamp_pin_chip *chip)
{
    lamp_text_add(out, "  {");
    json_text_member(out, "name", chip->name);
    lamp_text_add(out, ", ");
    json_text_member(out, "label", chip->label);
    lamp_text_add(out, ", ");
    json_text_member(out, "trouble", chip->trouble);
    lamp_text_add(out, ",\n   \"pins\": [");
    for (size_t i = 0; i < chip->pin_count; i++) {
        lamp_text_add(out, i == 0 ? "\n    " : ",\n    ");
        add_pin(out, chip->name, &chip->pin[i]);
    }
    lamp_text_add(out, "]}");
}

static void add_chips(struct lamp_text *out, const struct lamp_pin_list *list)
{
    lamp_text_add(out, " \"chips\": [");
    for (size_t i = 0; i < list->chip_count; i++) {
        lamp_text_add(out, i == 0 ? "\n" : ",\n");
        add_chip(out, &list->chip[i]);
    }
    lamp_text_add(out, "],\n ");
    json_text_member(out, "chips_missing", list->trouble);
}

static size_t count_free(const struct lamp_pin_chip *chip)
{
    size_t count = 0;
    for (size_t i = 0; i < chip->pin_count; i++) {
        count += is_free(&chip->pin[i]);
    }
    return count;
}

static bool has_free(const struct lamp_pin_list *list)
{
    size_t count = 0;
    for (size_t i = 0; i < list->chip_count; i++) {
        count += count_free(&list->chip[i]);
    }
    return count > 0;
}

enum lamp_err list_pins(struct lamp_text *text, struct lamp_text *json, bool *found)
{
    struct lamp_pin_list *list = NULL;
    enum lamp_err failed = lamp_pin_list_new(&list);
    if (failed != LAMP_OK) {
        return failed;
    }
    for (size_t i = 0; i < list->chip_count; i++) {
        print_chip(text, &list->chip[i]);
    }
    if (list->trouble[0] != '\0') {
        lamp_text_add(text, "pins: none; %s\n", list->trouble);
    }
    add_chips(json, list);
    if (has_free(list)) {
        *found = true;
    }
    lamp_pin_list_free(list);
    return LAMP_OK;
}
