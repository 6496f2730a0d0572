/* source.c - Open a recording, whatever its form, and give what it holds one item at a time. */
#include "lampread/source.h"

#include <assert.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/fail.h"
#include "source/form.h"

struct lamp_source {
    const struct lamp_form *form;
    void *state;
    struct lamp_input input;
    char *name;
    enum lamp_err ended; /* LAMP_OK while there is more; then what every further call answers. */
    struct lamp_error end;
};

/* In the order they are asked; a clip takes what no other form does. */
static const struct lamp_form *const forms[] = {&lamp_form_stills, &lamp_form_flashes,
                                                &lamp_form_trace, &lamp_form_vcd, &lamp_form_clip};

/* What is no file: asked about devices, and about names that no file has. */
static const struct lamp_form *const live_forms[] = {&lamp_form_replay, &lamp_form_pin,
                                                     &lamp_form_camera};

struct lamp_source_rules lamp_source_rules_default(void)
{
    return (struct lamp_source_rules){
        .stills_rate_hz = 30, .replay_speed = 1, .thread_count = 0, .wait_ns = INT64_C(50000000)};
}

int64_t lamp_item_time_ns(const struct lamp_item *item)
{
    switch (item->kind) {
    case LAMP_ITEM_SAMPLE: return item->sample.t_ns;
    case LAMP_ITEM_EDGE: return item->edge.t_ns;
    case LAMP_ITEM_BREAK: return item->break_ns;
    case LAMP_ITEM_FRAME: break;
    }
    return item->frame.t_ns;
}

static const char *reason(int code)
{
    switch (code) {
    case ENOENT:
    case ENOTDIR: return "there is no such file or folder";
    case EACCES:
    case EPERM: return "no permission to read it";
    case ELOOP: return "its links lead in a circle";
    case ENAMETOOLONG: return "its name is too long";
    case EMFILE:
    case ENFILE: return "too many files are open";
    default: return "it cannot be read";
    }
}

static bool is_text(const char *bytes, size_t size)
{
    for (size_t i = 0; i < size; i++) {
        unsigned char c = (unsigned char)bytes[i];
        if ((c < ' ' && c != '\t' && c != '\n' && c != '\r' && c != '\f') || c == 0x7f) {
            return false;
        }
    }
    return true;
}

static enum lamp_err sniff_file(struct lamp_sniff *sniff, struct lamp_error *error)
{
    FILE *file = fopen(sniff->name, "rb");
    if (file == NULL) {
        return lamp_fail(error, LAMP_BAD_SOURCE, sniff->name, "%s", reason(errno));
    }
    sniff->size = fread(sniff->head, 1, LAMP_SNIFF_BYTES, file);
    bool failed = ferror(file) != 0;
    (void)fclose(file);
    if (failed) {
        return lamp_fail(error, LAMP_BAD_SOURCE, sniff->name, "it cannot be read");
    }
    if (sniff->size == 0) {
        return lamp_fail(error, LAMP_BAD_SOURCE, sniff->name, "the file is empty");
    }
    sniff->head[sniff->size] = '\0';
    sniff->is_text = is_text(sniff->head, sniff->size);
    return LAMP_OK;
}

/* NULL if there is none. */
static const struct lamp_form *find_live_form(const struct lamp_sniff *sniff)
{
    for (size_t i = 0; i < sizeof live_forms / sizeof live_forms[0]; i++) {
        if (live_forms[i]->suits(sniff)) {
            return live_forms[i];
        }
    }
    return NULL;
}

static const struct lamp_form *find_form(const struct lamp_sniff *sniff)
{
    size_t at = 0;
    while (at + 1 < sizeof forms / sizeof forms[0] && !forms[at]->suits(sniff)) {
        at++;
    }
    return forms[at];
}

/* Only plain files and folders are recordings: opening a pipe would wait. */
static enum lamp_err find_recording(struct lamp_sniff *sniff, const struct stat *what,
                                    const struct lamp_form **out, struct lamp_error *error)
{
    if (!S_ISDIR(what->st_mode) && !S_ISREG(what->st_mode)) {
        bool is_device = S_ISCHR(what->st_mode) || S_ISBLK(what->st_mode);
        return lamp_fail(error, LAMP_BAD_SOURCE, sniff->name,
                         "this is a %s: expected a recorded file or a folder of pictures",
                         is_device ? "device" : "pipe or socket");
    }
    sniff->is_folder = S_ISDIR(what->st_mode);
    enum lamp_err err = sniff->is_folder ? LAMP_OK : sniff_file(sniff, error);
    if (err == LAMP_OK) {
        *out = find_form(sniff);
    }
    return err;
}

/* What a name means: a live form where it is a device or no file at all, else a recording. */
static enum lamp_err find_meaning(struct lamp_sniff *sniff, const struct lamp_form **out,
                                  struct lamp_error *error)
{
    struct stat what;
    if (*sniff->name == '\0') {
        return lamp_fail(error, LAMP_BAD_SOURCE, "", "the name of the recording is empty");
    }
    int code = stat(sniff->name, &what) == 0 ? 0 : errno;
    sniff->is_absent = code == ENOENT || code == ENOTDIR;
    sniff->is_device = code == 0 && S_ISCHR(what.st_mode);
    const struct lamp_form *live = find_live_form(sniff);
    if (live != NULL) {
        *out = live;
        return LAMP_OK;
    }
    return code == 0 ? find_recording(sniff, &what, out, error)
                     : lamp_fail(error, LAMP_BAD_SOURCE, sniff->name, "%s", reason(code));
}

static enum lamp_err begin(struct lamp_source *source, const struct lamp_form *form,
                           const struct lamp_sniff *sniff, const struct lamp_source_rules *rules,
                           struct lamp_error *error)
{
    source->input.name = source->name;
    source->input.rules = *rules;
    lamp_pace_init(&source->input.pace);
    enum lamp_err err = form->open(&source->input, sniff, &source->state, error);
    if (err == LAMP_OK) {
        source->form = form;
    }
    return err;
}

enum lamp_err lamp_source_open(const char *name, const struct lamp_source_rules *rules,
                               struct lamp_source **out, struct lamp_error *error)
{
    assert(name != NULL && rules != NULL && out != NULL);
    struct lamp_sniff sniff = {.name = name};
    const struct lamp_form *form = NULL;
    enum lamp_err err = find_meaning(&sniff, &form, error);
    if (err != LAMP_OK) {
        return err;
    }
    assert(form != NULL);
    struct lamp_source *source = calloc(1, sizeof *source);
    if (source == NULL || (source->name = strdup(name)) == NULL) {
        free(source);
        return lamp_fail_memory(error);
    }
    err = begin(source, form, &sniff, rules, error);
    if (err != LAMP_OK) {
        lamp_source_free(source);
        return err;
    }
    *out = source;
    return LAMP_OK;
}

/* An end before anything was given is a failure, told by the first warning if there is one. */
static enum lamp_err end(struct lamp_source *source, enum lamp_err err)
{
    source->ended = err;
    if (err == LAMP_END && source->input.pace.item_count == 0) {
        const char *why = lamp_notes_at(&source->input.notes, 0);
        source->ended =
            lamp_fail(&source->end, LAMP_BAD_SOURCE, source->name, "nothing in it can be read%s%s",
                      why == NULL ? "" : ": ", why == NULL ? "" : why);
    }
    return source->ended;
}

enum lamp_err lamp_source_next(struct lamp_source *source, struct lamp_item *out,
                               struct lamp_error *error)
{
    if (source->ended == LAMP_OK) {
        enum lamp_err err = source->form->next(source->state, out, &source->end);
        if (err == LAMP_OK || err == LAMP_NOT_YET || end(source, err) == LAMP_END) {
            return err;
        }
    }
    if (source->ended != LAMP_END && error != NULL) {
        *error = source->end;
    }
    return source->ended;
}

void lamp_source_describe(const struct lamp_source *source, struct lamp_source_info *out)
{
    const struct lamp_pace *pace = &source->input.pace;
    double interval_ns = lamp_pace_interval_ns(pace);
    *out = (struct lamp_source_info){
        .kind = source->form->kind,
        .name = source->name,
        .duration_s = lamp_pace_duration_s(pace),
        .frame_count = pace->item_count,
        .rate_hz = interval_ns > 0 ? 1e9 / interval_ns : 0,
        .dropped_count = lamp_pace_dropped(pace),
        .is_live =
            source->form->kind == LAMP_SOURCE_CAMERA || source->form->kind == LAMP_SOURCE_PIN,
    };
    if (source->form->describe != NULL) {
        source->form->describe(source->state, out);
    }
}

double lamp_source_progress(const struct lamp_source *source)
{
    double share = source->form->progress(source->state);
    return share > 1 ? 1 : share;
}

size_t lamp_source_lamp_count(const struct lamp_source *source)
{
    return source->input.names.count;
}

const char *lamp_source_lamp_name(const struct lamp_source *source, size_t index)
{
    assert(index < source->input.names.count);
    return source->input.names.at[index];
}

const char *lamp_source_warning(const struct lamp_source *source, size_t index)
{
    return lamp_notes_at(&source->input.notes, index);
}

const char *lamp_source_setting(const struct lamp_source *source, size_t index)
{
    return lamp_notes_at(&source->input.settings, index);
}

void lamp_source_focus(struct lamp_source *source, const struct lamp_picture_part *part)
{
    if (source->form->focus != NULL) {
        source->form->focus(source->state, part);
    }
}

void lamp_source_free(struct lamp_source *source)
{
    if (source == NULL) {
        return;
    }
    if (source->form != NULL) {
        source->form->close(source->state);
    }
    free(source->name);
    free(source);
}
