/* watch.h - Watch light as it comes: what becomes certain of each lamp, and what stands in the way of seeing it. */
#ifndef LAMPREAD_WATCH_H
#define LAMPREAD_WATCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "lampread/error.h"
#include "lampread/pipeline.h"
#include "lampread/report.h"
#include "lampread/source.h"

/** What can stand in the way of seeing a lamp. */
enum lamp_trouble {
    LAMP_TROUBLE_UNPLUGGED, /**< The source went away. */
    LAMP_TROUBLE_SILENT,    /**< It is there, and no pictures come. */
    LAMP_TROUBLE_MOVED,     /**< The camera was bumped. */
    LAMP_TROUBLE_COVERED,   /**< The picture became plain: something is before the lens. */
    LAMP_TROUBLE_DARK,      /**< Nothing shines and nothing can be made out. */
    LAMP_TROUBLE_BRIGHT,    /**< The picture is driven white. */
    LAMP_TROUBLE_FAST,      /**< A lamp changes too fast for the frame rate. */
    LAMP_TROUBLE_COUNT
};

/** Kinds of news. */
enum lamp_news_kind {
    LAMP_NEWS_VERDICT, /**< What a lamp does became certain, or is another thing now. */
    LAMP_NEWS_GONE,    /**< A lamp that was told is not seen as one any more. */
    LAMP_NEWS_TROUBLE, /**< Trouble began. */
    LAMP_NEWS_RELIEF   /**< Trouble is over. */
};

/** One piece of news. Holds nothing to free. */
struct lamp_news {
    enum lamp_news_kind kind;
    double t_s;                /**< Since the first light, on the source's clock. */
    size_t lamp;               /**< VERDICT, FAST: index in the view that lamp_watcher_view gives now. */
    char name[LAMP_NAME_MAX];  /**< VERDICT, GONE, FAST: the lamp's. */
    enum lamp_trouble trouble; /**< TROUBLE, RELIEF. */
};

/** How light is watched. */
struct lamp_watcher_rules {
    int64_t spacing_ns; /**< Source time between peeks, ns; default 100 ms. */
};

struct lamp_watcher;

struct lamp_watcher_rules lamp_watcher_rules_default(void);

/**
 * Make a watcher.
 * @param reading  how lamps are read; borrowed as lamp_reader_new has it.
 * @param out      freed by the caller. @return LAMP_OK, LAMP_NO_MEMORY, LAMP_BAD_USE.
 */
enum lamp_err lamp_watcher_new(const struct lamp_watcher_rules *rules, const struct lamp_reader_rules *reading,
                               struct lamp_watcher **out, struct lamp_error *error);

/**
 * Take one item from `source`.
 * @param item  set to it on LAMP_OK, so that it can be kept too.
 * @return LAMP_OK; LAMP_NOT_YET; LAMP_END; LAMP_BAD_SOURCE (also news of being unplugged, where there was light before); LAMP_NO_MEMORY.
 */
enum lamp_err lamp_watcher_step(struct lamp_watcher *watcher, struct lamp_source *source, struct lamp_item *item,
                                struct lamp_error *error);

/** Take the next news since the last step; false when there is none. A lamp's index is good until the next step. */
bool lamp_watcher_next(struct lamp_watcher *watcher, struct lamp_news *out);

/** What was last seen, NULL before anything was; borrowed until the next step. */
const struct lamp_report *lamp_watcher_view(const struct lamp_watcher *watcher);

/** Whether what lamp `index` of the view does is certain by now: it was told as news and still holds. */
bool lamp_watcher_is_told(const struct lamp_watcher *watcher, size_t index);

/** Trouble that stands now. @return LAMP_TROUBLE_COUNT if there is none; the gravest where there are several. */
enum lamp_trouble lamp_watcher_trouble(const struct lamp_watcher *watcher);

/** Source time since the first light, s. */
double lamp_watcher_time_s(const struct lamp_watcher *watcher);

/** The reader within, for lamp_reader_report and lamp_reader_next_sample at the end. */
struct lamp_reader *lamp_watcher_reader(struct lamp_watcher *watcher);

/** Free; NULL is fine. */
void lamp_watcher_free(struct lamp_watcher *watcher);

/** "covered", "too-dark", ... for programs. Static. */
const char *lamp_trouble_name(enum lamp_trouble trouble);

/** What it is and what to do, as a sentence without a full stop. Static. */
const char *lamp_trouble_words(enum lamp_trouble trouble);

/** That it is over, as a sentence without a full stop. Static. */
const char *lamp_trouble_over(enum lamp_trouble trouble);

#endif
