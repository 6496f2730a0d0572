/* gpio_node.c - Where the GPIO chips of this machine are, who may open them, and the clock of their
 * events. */
#include <dirent.h>
#include <errno.h>
#include <grp.h>
#include <limits.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <time.h>
#include <unistd.h>

#include "base/number.h"
#include "source/gpio.h"

static const char prefix[] = "gpiochip";

static bool is_node(const char *name)
{
    const char *digits = name + strlen(prefix);
    return strncmp(name, prefix, strlen(prefix)) == 0 && *digits != '\0' &&
           digits[strspn(digits, "0123456789")] == '\0' && strlen(name) < LAMP_PIN_NAME_MAX;
}

/* Names of one prefix: the shorter number is the smaller one. */
static int compare_nodes(const void *a, const void *b)
{
    size_t a_length = strlen(a);
    size_t b_length = strlen(b);
    return a_length != b_length ? (a_length > b_length) - (a_length < b_length) : strcmp(a, b);
}

size_t lamp_gpio_nodes(char (*out)[LAMP_PIN_NAME_MAX], size_t room)
{
    DIR *folder = opendir("/dev");
    if (folder == NULL) {
        return 0;
    }
    size_t count = 0;
    const struct dirent *entry;
    while ((entry = readdir(folder)) != NULL) {
        if (!is_node(entry->d_name)) {
            continue;
        }
        if (count < room) {
            memcpy(out[count], entry->d_name, strlen(entry->d_name) + 1);
        }
        count++;
    }
    (void)closedir(folder);
    qsort(out, count < room ? count : room, sizeof out[0], compare_nodes);
    return count;
}

/* By the kernel's word: opening a device to find out what it is may do something to it. */
bool lamp_gpio_is_chip(const char *path)
{
    struct stat what;
    char link[64];
    char target[PATH_MAX];
    if (stat(path, &what) != 0 || !S_ISCHR(what.st_mode)) {
        return false;
    }
    (void)snprintf(link, sizeof link, "/sys/dev/char/%u:%u/subsystem", major(what.st_rdev),
                   minor(what.st_rdev));
    ssize_t length = readlink(link, target, sizeof target - 1);
    if (length < 0) {
        return false;
    }
    target[length] = '\0';
    const char *name = strrchr(target, '/');
    return name != NULL && strcmp(name, "/gpio") == 0;
}

bool lamp_gpio_group(const char *path, char *out, size_t size)
{
    struct stat what;
    char memory[1024];
    struct group group;
    struct group *found = NULL;
    if (stat(path, &what) != 0 || (what.st_mode & S_IWGRP) == 0 || what.st_gid == 0 ||
        getgrgid_r(what.st_gid, &group, memory, sizeof memory, &found) != 0 || found == NULL) {
        return false;
    }
    (void)snprintf(out, size, "%s", group.gr_name);
    return true;
}

int64_t lamp_gpio_now_ns(void)
{
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * LAMP_NS_PER_S + now.tv_nsec;
}

int lamp_gpio_wait(int fd, int64_t wait_ns, bool *is_ready)
{
    const int64_t ms_ns = 1000000;
    int64_t wait_ms = wait_ns > 0 ? (wait_ns + ms_ns - 1) / ms_ns : 0;
    struct pollfd wanted = {.fd = fd, .events = POLLIN | POLLPRI};
    int answer = poll(&wanted, 1, wait_ms < INT_MAX ? (int)wait_ms : INT_MAX);
    if (answer < 0 && errno != EINTR) {
        return errno;
    }
    bool can_read = answer > 0 && (wanted.revents & (POLLIN | POLLPRI)) != 0;
    if (answer > 0 && !can_read) {
        return ENODEV;
    }
    *is_ready = can_read;
    return 0;
}

void lamp_gpio_copy_name(const char *name, char out[LAMP_PIN_NAME_MAX])
{
    size_t length = name == NULL ? 0 : strlen(name);
    length = length < LAMP_PIN_NAME_MAX ? length : LAMP_PIN_NAME_MAX - 1;
    for (size_t i = 0; i < length; i++) {
        out[i] = (char)(name[i] >= ' ' && name[i] < 0x7f ? name[i] : '?');
    }
    out[length] = '\0';
}
