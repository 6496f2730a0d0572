/* webcam_usb.c - A USB device in user space: what USB/IP puts between it and the kernel's virtual
 * host controller.
 *
 * Documentation/usb/usbip_protocol.rst of the kernel: 48 bytes of header, words with the high byte
 * first, then the data.
 */
#include "webcam_usb.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { SUBMIT = 1, UNLINK = 2, SUBMITTED = 3, UNLINKED = 4 };
enum { HIGH_SPEED = 3, PORTS = 8 };

struct header {
    uint32_t command, sequence, device, direction, endpoint;
    uint32_t flags_or_status, length,
        rest[3]; /* of an unlinking: flags_or_status names its victim */
    uint8_t setup[8];
};

static bool move_all(struct usb *usb, void *bytes, size_t size_bytes, bool is_read)
{
    char *at = bytes;
    while (size_bytes > 0) {
        ssize_t moved = is_read ? recv(usb->socket, at, size_bytes, 0)
                                : send(usb->socket, at, size_bytes, MSG_NOSIGNAL);
        if (moved < 0 && errno == EINTR) {
            continue;
        }
        if (moved <= 0) {
            return false;
        }
        at += moved;
        size_bytes -= (size_t)moved;
    }
    return true;
}

bool usb_plug(struct usb *usb)
{
    int ends[2];
    int attach = open("/sys/devices/platform/vhci_hcd.0/attach", O_WRONLY);
    if (attach < 0) {
        return false;
    }
    if (socketpair(AF_UNIX, SOCK_STREAM, 0, ends) != 0) {
        (void)close(attach);
        return false;
    }
    ssize_t written = -1;
    for (unsigned port = 0; port < PORTS && written < 0; port++) {
        char line[64];
        int length =
            snprintf(line, sizeof line, "%u %d %u %d", port, ends[1], 0x10002 + port, HIGH_SPEED);
        written = write(attach, line, (size_t)length);
    }
    (void)close(attach);
    (void)close(ends[1]);
    usb->read_count = 0;
    usb->socket = ends[0];
    if (written < 0) {
        usb_unplug(usb);
    }
    return written >= 0;
}

void usb_unplug(struct usb *usb)
{
    (void)shutdown(usb->socket, SHUT_RDWR);
    (void)close(usb->socket);
    usb->socket = -1;
}

static bool reply(struct usb *usb, uint32_t command, uint32_t sequence, int status,
                  const uint8_t *bytes, size_t size_bytes, size_t told_bytes)
{
    uint8_t packet[sizeof(struct header) + 16384 + 64];
    struct header header = {.command = htonl(command),
                            .sequence = htonl(sequence),
                            .flags_or_status = htonl((uint32_t)status),
                            .length = htonl((uint32_t)told_bytes)};
    memcpy(packet, &header, sizeof header);
    if (size_bytes > 0) {
        memcpy(packet + sizeof header, bytes, size_bytes);
    }
    return move_all(usb, packet, sizeof header + size_bytes, false);
}

bool usb_answer(struct usb *usb, const uint8_t *bytes, int size_bytes)
{
    if (size_bytes < 0) {
        return reply(usb, SUBMITTED, usb->sequence, -EPIPE, NULL, 0, 0);
    }
    if (!usb->wants_bytes) {
        return reply(usb, SUBMITTED, usb->sequence, 0, NULL, 0, usb->asked_bytes);
    }
    size_t most_bytes =
        (size_t)size_bytes < usb->asked_bytes ? (size_t)size_bytes : usb->asked_bytes;
    return reply(usb, SUBMITTED, usb->sequence, 0, bytes, most_bytes, most_bytes);
}

static struct usb_read take_read(struct usb *usb, size_t i)
{
    struct usb_read read = usb->reads[i];
    usb->read_count--;
    memmove(usb->reads + i, usb->reads + i + 1, (usb->read_count - i) * sizeof *usb->reads);
    return read;
}

bool usb_give(struct usb *usb, const uint8_t *bytes, size_t size_bytes)
{
    return reply(usb, SUBMITTED, take_read(usb, 0).sequence, 0, bytes, size_bytes, size_bytes);
}

static enum usb_event submit(struct usb *usb, const struct header *header)
{
    usb->sequence = ntohl(header->sequence);
    usb->asked_bytes = ntohl(header->length);
    usb->wants_bytes = header->direction != 0;
    usb->data_bytes = usb->wants_bytes ? 0 : usb->asked_bytes;
    memset(usb->data, 0, sizeof usb->data);
    if (usb->data_bytes > sizeof usb->data || !move_all(usb, usb->data, usb->data_bytes, true)) {
        return USB_GONE;
    }
    if (header->endpoint == 0) {
        memcpy(usb->setup, header->setup, sizeof usb->setup);
        return USB_REQUEST;
    }
    if (usb->read_count < USB_READS_MAX) {
        usb->reads[usb->read_count++] =
            (struct usb_read){.sequence = usb->sequence, .size_bytes = usb->asked_bytes};
    }
    return USB_NOTHING;
}

/* A read that still waits is taken back; one that was answered meanwhile is not, and that is told
 * by status 0. */
static enum usb_event unlink_read(struct usb *usb, const struct header *header)
{
    uint32_t victim = ntohl(header->flags_or_status);
    int status = 0;
    for (size_t i = 0; i < usb->read_count && status == 0; i++) {
        if (usb->reads[i].sequence == victim) {
            (void)take_read(usb, i);
            status = -ECONNRESET;
        }
    }
    return reply(usb, UNLINKED, ntohl(header->sequence), status, NULL, 0, 0) ? USB_NOTHING
                                                                             : USB_GONE;
}

enum usb_event usb_take(struct usb *usb)
{
    struct header header;
    if (!move_all(usb, &header, sizeof header, true)) {
        return USB_GONE;
    }
    switch (ntohl(header.command)) {
    case SUBMIT: return submit(usb, &header);
    case UNLINK: return unlink_read(usb, &header);
    default: return USB_GONE;
    }
}
