/* yaml.c - YAML 1.2 text as a tree of nodes that know their place. */
#include "codebook/yaml.h"

#include <assert.h>
#include <libfyaml.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/array.h"
#include "base/fail.h"
#include "base/utf8.h"

enum { QUOTED_MAX = 40 };

/* A list or map whose end has not come yet. */
struct open {
    struct lamp_yaml_node *node;
    size_t first; /* Its first child among the pending nodes. */
    const char *anchor;
};

struct anchor {
    const char *name;
    const struct lamp_yaml_node *node;
};

/* A tree in the making: finished nodes wait for the end of the list or map that holds them. */
struct builder {
    const struct lamp_yaml_source *source;
    struct lamp_arena *arena;
    struct lamp_error *error;
    enum lamp_err err;
    size_t node_count;
    size_t document_count;
    size_t depth;
    struct open open[LAMP_YAML_DEPTH_MAX];
    size_t anchor_count;
    struct anchor anchor[LAMP_YAML_ANCHORS_MAX];
    const struct lamp_yaml_node **pending;
    size_t pending_count;
    size_t pending_room;
    size_t last_end; /* Byte behind the newest text, alias or closing bracket. */
};

static bool refuse(struct builder *builder, const struct fy_mark *mark, const char *sentence)
{
    char place[LAMP_PLACE_MAX];
    lamp_yaml_place(builder->source->name, mark == NULL ? 1 : mark->line + 1,
                    mark == NULL ? 1 : mark->column + 1, place);
    builder->err = lamp_fail(builder->error, LAMP_BAD_BOOK, place, "%s", sentence);
    return false;
}

static bool refuse_memory(struct builder *builder)
{
    return (builder->err = lamp_fail_memory(builder->error)) == LAMP_OK;
}

static struct lamp_yaml_node *new_node(struct builder *builder, enum lamp_yaml_kind kind,
                                       const struct fy_mark *mark)
{
    if (builder->node_count == LAMP_YAML_NODES_MAX) {
        (void)refuse(builder, mark, "the file holds too many values, expected at most 262144");
        return NULL;
    }
    struct lamp_yaml_node *node = lamp_arena_take(builder->arena, sizeof *node);
    if (node == NULL) {
        (void)refuse_memory(builder);
        return NULL;
    }
    builder->node_count++;
    node->kind = kind;
    node->line = mark == NULL ? 1 : mark->line + 1;
    node->column = mark == NULL ? 1 : mark->column + 1;
    node->begin = mark == NULL ? builder->last_end : mark->input_pos;
    node->end = node->begin;
    return node;
}

static bool push(struct builder *builder, const struct lamp_yaml_node *node)
{
    void *pending = builder->pending;
    enum lamp_err err = lamp_array_room(&pending, &builder->pending_room, builder->pending_count,
                                        sizeof(void *), LAMP_YAML_NODES_MAX + 1);
    builder->pending = pending;
    if (err != LAMP_OK || builder->pending == NULL) {
        return refuse_memory(builder);
    }
    builder->pending[builder->pending_count++] = node;
    return true;
}

static bool remember_anchor(struct builder *builder, const char *name,
                            const struct lamp_yaml_node *node)
{
    if (name == NULL) {
        return true;
    }
    if (builder->anchor_count == LAMP_YAML_ANCHORS_MAX) {
        struct fy_mark mark = {0, node->line - 1, node->column - 1};
        return refuse(builder, &mark, "the file holds too many anchors, expected at most 64");
    }
    builder->anchor[builder->anchor_count++] = (struct anchor){name, node};
    return true;
}

/* The text of a token in the arena, "" for none; NULL if memory ran out. */
static const char *token_text(struct builder *builder, struct fy_token *token, size_t *size)
{
    const char *text = token == NULL ? "" : fy_token_get_text(token, size);
    if (token == NULL) {
        *size = 0;
    }
    const char *copy = text == NULL ? NULL : lamp_arena_copy(builder->arena, text, *size);
    if (copy == NULL) {
        (void)refuse_memory(builder);
    }
    return copy;
}

/* Anchor of a node, NULL in `name` for none. */
static bool take_anchor(struct builder *builder, struct fy_token *token, const char **name)
{
    size_t size;
    *name = token == NULL ? NULL : token_text(builder, token, &size);
    return token == NULL || *name != NULL;
}

static bool refuse_tag(struct builder *builder, struct fy_token *tag, const struct fy_mark *mark)
{
    return tag != NULL &&
           !refuse(builder, mark, "a YAML tag stands here, expected plain text, a list or keys");
}

/* Whether the text stands in the file as it is, so that a place in it is a place in the file. */
static int find_text_column(const struct builder *builder, const struct lamp_yaml_node *node,
                            size_t at)
{
    if (at >= builder->source->size) {
        return 0;
    }
    bool is_quoted = builder->source->text[at] == '"' || builder->source->text[at] == '\'';
    at += is_quoted;
    bool is_same = node->size <= builder->source->size - at &&
                   memcmp(builder->source->text + at, node->text, node->size) == 0;
    return is_same && memchr(node->text, '\n', node->size) == NULL ? node->column + is_quoted : 0;
}

/* A value that is left out has no place of its own: it stands where the one before it does. */
static void place_empty(const struct builder *builder, struct lamp_yaml_node *node)
{
    if (builder->pending_count > 0) {
        node->line = builder->pending[builder->pending_count - 1]->line;
        node->column = builder->pending[builder->pending_count - 1]->column;
    }
    node->text_column = 0;
}

/* Where an event that has text of its own ends. */
static void note_end(struct builder *builder, struct fy_event *event)
{
    const struct fy_mark *mark = fy_event_end_mark(event);
    if (mark != NULL && mark->input_pos > builder->last_end) {
        builder->last_end = mark->input_pos;
    }
}

static bool add_text(struct builder *builder, struct fy_event *event, const struct fy_mark *mark)
{
    const char *anchor;
    if (refuse_tag(builder, event->scalar.tag, mark) ||
        !take_anchor(builder, event->scalar.anchor, &anchor)) {
        return false;
    }
    struct lamp_yaml_node *node = new_node(builder, LAMP_YAML_TEXT, mark);
    if (node == NULL) {
        return false;
    }
    node->text = token_text(builder, event->scalar.value, &node->size);
    if (node->text == NULL) {
        return false;
    }
    if (mark == NULL) {
        place_empty(builder, node);
    } else {
        node->text_column = find_text_column(builder, node, mark->input_pos);
        note_end(builder, event);
        node->end = builder->last_end;
    }
    return push(builder, node) && remember_anchor(builder, anchor, node);
}

static bool add_alias(struct builder *builder, struct fy_event *event, const struct fy_mark *mark)
{
    size_t size;
    const char *name = token_text(builder, event->alias.anchor, &size);
    if (name == NULL) {
        return false;
    }
    note_end(builder, event);
    for (size_t i = builder->anchor_count; i > 0; i--) {
        if (strcmp(builder->anchor[i - 1].name, name) == 0) {
            return push(builder, builder->anchor[i - 1].node);
        }
    }
    char sentence[LAMP_SENTENCE_MAX];
    (void)snprintf(sentence, sizeof sentence,
                   "alias '*%.*s' names nothing, expected an anchor that is complete before it",
                   (int)lamp_utf8_fit(name, size, QUOTED_MAX), name);
    return refuse(builder, mark, sentence);
}

static bool begin(struct builder *builder, struct lamp_yaml_node *node, const char *anchor)
{
    if (node == NULL) {
        return false;
    }
    builder->open[builder->depth++] = (struct open){node, builder->pending_count, anchor};
    return true;
}

static bool begin_collection(struct builder *builder, struct fy_event *event,
                             const struct fy_mark *mark)
{
    bool is_map = event->type == FYET_MAPPING_START;
    struct fy_token *tag = is_map ? event->mapping_start.tag : event->sequence_start.tag;
    struct fy_token *anchor_token =
        is_map ? event->mapping_start.anchor : event->sequence_start.anchor;
    const char *anchor;
    if (builder->depth == LAMP_YAML_DEPTH_MAX) {
        return refuse(builder, mark,
                      "lists and keys are nested too deeply, expected at most 16 levels");
    }
    if (refuse_tag(builder, tag, mark) || !take_anchor(builder, anchor_token, &anchor)) {
        return false;
    }
    struct lamp_yaml_node *node = new_node(builder, is_map ? LAMP_YAML_MAP : LAMP_YAML_LIST, mark);
    if (node != NULL && mark != NULL) {
        node->is_flow = strchr("[{", builder->source->text[mark->input_pos]) != NULL;
    }
    return begin(builder, node, anchor);
}

static bool check_keys(struct builder *builder, const struct lamp_yaml_node *map)
{
    for (size_t i = 0; i < map->count; i++) {
        const struct lamp_yaml_node *key = map->child[2 * i];
        if (key->kind != LAMP_YAML_TEXT) {
            struct fy_mark mark = {0, key->line - 1, key->column - 1};
            return refuse(builder, &mark,
                          "a list or keys stand where a key is expected, expected a word");
        }
    }
    return true;
}

static bool end_collection(struct builder *builder, struct fy_event *event)
{
    struct open *open = &builder->open[--builder->depth];
    assert(open->node != NULL);
    if (open->node->is_flow) {
        note_end(builder, event);
    }
    open->node->end = builder->last_end;
    size_t children = builder->pending_count - open->first;
    const struct lamp_yaml_node **child =
        lamp_arena_take_row(builder->arena, children + 1, sizeof(void *));
    if (child == NULL) {
        return refuse_memory(builder);
    }
    for (size_t i = 0; i < children; i++) {
        child[i] = builder->pending[open->first + i];
    }
    builder->pending_count = open->first;
    open->node->child = child;
    bool is_map = open->node->kind == LAMP_YAML_MAP;
    open->node->count = is_map ? children / 2 : children;
    if (is_map && !check_keys(builder, open->node)) {
        return false;
    }
    return push(builder, open->node) && remember_anchor(builder, open->anchor, open->node);
}

static bool begin_document(struct builder *builder, const struct fy_mark *mark)
{
    if (builder->document_count++ > 0) {
        return refuse(builder, mark,
                      "a second YAML document begins here, expected one book a file");
    }
    return true;
}

static bool take_event(struct builder *builder, struct fy_event *event)
{
    const struct fy_mark *mark = fy_event_start_mark(event);
    switch (event->type) {
    case FYET_DOCUMENT_START: return begin_document(builder, mark);
    case FYET_SCALAR: return add_text(builder, event, mark);
    case FYET_ALIAS: return add_alias(builder, event, mark);
    case FYET_SEQUENCE_START:
    case FYET_MAPPING_START: return begin_collection(builder, event, mark);
    case FYET_SEQUENCE_END:
    case FYET_MAPPING_END: return end_collection(builder, event);
    default: return true;
    }
}

/* The parser's own words for what is no YAML at all, with a hint where quotes are missing. */
static bool refuse_syntax(struct builder *builder, struct fy_diag *diag)
{
    void *iterator = NULL;
    const struct fy_diag_error *first = fy_diag_errors_iterate(diag, &iterator);
    if (first == NULL) {
        return refuse(builder, NULL, "this cannot be read as YAML");
    }
    const char *message = first->msg == NULL ? "unreadable" : first->msg;
    bool needs_quotes =
        strstr(message, "cannot start with") != NULL || strstr(message, "block scalar") != NULL;
    char sentence[LAMP_SENTENCE_MAX];
    (void)snprintf(sentence, sizeof sentence, "this is not YAML: %.*s%s",
                   (int)strcspn(message, "\r\n"), message,
                   needs_quotes
                       ? "; text that begins with a sign, such as a comparison, stands in quotes"
                       : "");
    struct fy_mark mark = {0, first->line > 0 ? first->line - 1 : 0,
                           first->column > 0 ? first->column - 1 : 0};
    return refuse(builder, &mark, sentence);
}

static bool take_events(struct builder *builder, struct fy_parser *parser, struct fy_diag *diag)
{
    struct fy_event *event;
    while ((event = fy_parser_parse(parser)) != NULL) {
        bool taken = take_event(builder, event);
        fy_parser_event_free(parser, event);
        if (!taken) {
            return false;
        }
    }
    return fy_parser_get_stream_error(parser) ? refuse_syntax(builder, diag) : true;
}

static void say_nothing(struct fy_diag *diag, void *user, const char *text, size_t size)
{
    (void)diag;
    (void)user;
    (void)text;
    (void)size;
}

static bool parse(struct builder *builder)
{
    struct fy_diag_cfg diag_cfg = {
        .output_fn = say_nothing, .level = FYET_ERROR, .module_mask = ~0U};
    struct fy_diag *diag = fy_diag_create(&diag_cfg);
    if (diag == NULL) {
        return refuse_memory(builder);
    }
    fy_diag_set_collect_errors(diag, true);
    struct fy_parse_cfg cfg = {.flags = FYPCF_QUIET | FYPCF_COLLECT_DIAG | FYPCF_JSON_NONE,
                               .diag = diag};
    struct fy_parser *parser = fy_parser_create(&cfg);
    bool done = parser != NULL && fy_parser_set_string(parser, builder->source->text,
                                                       builder->source->size) == 0
                    ? take_events(builder, parser, diag)
                    : refuse_memory(builder);
    fy_parser_destroy(parser);
    fy_diag_destroy(diag);
    return done;
}

enum lamp_err lamp_yaml_read(const struct lamp_yaml_source *source, struct lamp_arena *arena,
                             const struct lamp_yaml_node **out, struct lamp_error *error)
{
    struct builder *builder = calloc(1, sizeof *builder);
    if (builder == NULL) {
        return lamp_fail_memory(error);
    }
    *builder = (struct builder){.source = source, .arena = arena, .error = error};
    bool done = parse(builder);
    const struct lamp_yaml_node *root = builder->pending != NULL ? builder->pending[0] : NULL;
    if (done && root == NULL) {
        done = refuse(builder, NULL,
                      "the file is empty, expected a codebook that begins with 'book:'");
    }
    enum lamp_err err = builder->err;
    if (done) {
        *out = root;
    }
    free(builder->pending);
    free(builder);
    return err;
}
