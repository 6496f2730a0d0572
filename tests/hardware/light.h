/* light.h - What a lamp truly does over time, and the record of it. */
#ifndef LAMP_TESTS_HARDWARE_LIGHT_H
#define LAMP_TESTS_HARDWARE_LIGHT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/** Most lengths in one script. */
#define LIGHT_LENGTHS_MAX 4096

/** No further edge. */
#define LIGHT_NEVER INT64_MAX

/** Lit and dark by turns, over and over, lit first. A light without lengths stays as it is. */
struct light {
    int64_t length_ns[LIGHT_LENGTHS_MAX]; /**< Of one cycle, an even number of them. */
    size_t count;                         /**< 0: steady. */
    int64_t cycle_ns;                     /**< All lengths together. */
    int64_t start_ns;                     /**< When a cycle began; before it the lamp is dark. */
    bool is_lit;                          /**< Steady: whether it is lit. */
};

/**
 * Understand a script: "on", "off", "flicker SEED" (lengths without rule), or lengths in ms such as
 * "200 200 600 1800".
 * @return false where it is none of these.
 */
bool light_parse(const char *text, struct light *out);

/** How long the lamp is lit between two times, ns. */
int64_t light_lit_ns(const struct light *light, int64_t from_ns, int64_t to_ns);

/** The first edge after a time, LIGHT_NEVER if there is none. @param is_lit set to what it changes
 * to. */
int64_t light_edge_after(const struct light *light, int64_t t_ns, bool *is_lit);

/** Write every edge up to a time as "time_s,lit", the first line telling the state at the start.
 * @return false on failure. */
bool light_write(const struct light *light, int64_t until_ns, const char *path);

/** The time of the kernel's stamps, ns. */
int64_t light_now_ns(void);

#endif
