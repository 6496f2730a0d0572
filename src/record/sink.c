/* sink.c - A file that grows part by part, each part whole on disk soon after it is written. */
#include "record/sink.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/fail.h"

/* The names of failures that a person can do something about. */
static const char *reason(int code)
{
    switch (code) {
    case ENOSPC: return "the disk is full";
    case EDQUOT: return "your share of the disk is full";
    case EFBIG: return "the file may not grow any larger";
    case EIO: return "the disk does not answer";
    case EROFS: return "the disk can only be read";
    case EACCES:
    case EPERM: return "no permission to write it";
    case ENOENT:
    case ENOTDIR: return "there is no such folder";
    case EISDIR: return "this is a folder";
    default: return code != 0 ? strerror(code) : "no reason was given";
    }
}

enum lamp_err lamp_sink_open(struct lamp_sink *sink, const char *path, bool replaces,
                             struct lamp_error *error)
{
    int file = open(path, O_WRONLY | O_CREAT | O_CLOEXEC | (replaces ? O_TRUNC : O_EXCL), 0666);
    if (file < 0 && errno == EEXIST) {
        return lamp_fail(error, LAMP_BAD_USE, path,
                         "this file is there already; --force writes over it");
    }
    FILE *made = file < 0 ? NULL : fdopen(file, "wb");
    if (made == NULL) {
        int code = errno;
        if (file >= 0) {
            (void)close(file);
        }
        return lamp_fail(error, LAMP_CANNOT_WRITE, path, "this file cannot be written: %s",
                         reason(code));
    }
    *sink = (struct lamp_sink){.file = made, .path = path};
    return LAMP_OK;
}

/* One request at a time: while the disk is busy with one, the next part waits for the one after. */
static void ask_for_sync(struct lamp_sink *sink)
{
    if (sink->is_syncing) {
        if (aio_error(&sink->sync) == EINPROGRESS) {
            return;
        }
        (void)aio_return(&sink->sync);
    }
    memset(&sink->sync, 0, sizeof sink->sync);
    sink->sync.aio_fildes = fileno(sink->file);
    sink->sync.aio_sigevent.sigev_notify = SIGEV_NONE;
    sink->is_syncing = aio_fsync(O_DSYNC, &sink->sync) == 0;
}

static void await_sync(struct lamp_sink *sink)
{
    const struct aiocb *const row[1] = {&sink->sync};
    while (sink->is_syncing && aio_error(&sink->sync) == EINPROGRESS) {
        (void)aio_suspend(row, 1, NULL);
    }
    if (sink->is_syncing) {
        (void)aio_return(&sink->sync);
    }
    sink->is_syncing = false;
}

/* Note why the first failure came, while that is still known. */
bool lamp_sink_has_failed(struct lamp_sink *sink)
{
    if (sink->failure == 0 && ferror(sink->file) != 0) {
        sink->failure = errno != 0 ? errno : EIO;
    }
    return sink->failure != 0;
}

static void flush(struct lamp_sink *sink)
{
    if (!lamp_sink_has_failed(sink) && fflush(sink->file) != 0) {
        sink->failure = errno != 0 ? errno : EIO;
    }
}

enum lamp_err lamp_sink_end_part(struct lamp_sink *sink, struct lamp_error *error)
{
    flush(sink);
    off_t size = sink->failure != 0 ? -1 : ftello(sink->file);
    if (size >= 0) {
        sink->whole_size = size;
        ask_for_sync(sink);
        return LAMP_OK;
    }
    enum lamp_err err =
        lamp_fail(error, LAMP_CANNOT_WRITE, sink->path, "%s", reason(sink->failure));
    await_sync(sink);
    int file = dup(fileno(sink->file)); /* closing the stream may write a part of its rest */
    (void)fclose(sink->file);
    sink->file = NULL;
    if (file >= 0) {
        (void)(ftruncate(file, (off_t)sink->whole_size) == 0);
        (void)close(file);
    }
    return err;
}

void lamp_sink_patch(struct lamp_sink *sink, int64_t offset, const void *bytes, size_t size)
{
    flush(sink); /* a full disk must not make it land elsewhere */
    if (sink->failure == 0 && fseeko(sink->file, (off_t)offset, SEEK_SET) == 0) {
        (void)fwrite(bytes, 1, size, sink->file);
        flush(sink);
        (void)fseeko(sink->file, 0, SEEK_END);
    }
}

void lamp_sink_close(struct lamp_sink *sink)
{
    if (sink->file != NULL) {
        await_sync(sink);
        (void)fclose(sink->file);
    }
    sink->file = NULL;
}
