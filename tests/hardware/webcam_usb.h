/* webcam_usb.h - A USB device in user space: what USB/IP puts between it and the kernel's virtual
 * host controller. */
#ifndef LAMP_TESTS_HARDWARE_WEBCAM_USB_H
#define LAMP_TESTS_HARDWARE_WEBCAM_USB_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/** Most reads of the stream that wait at once. */
#define USB_READS_MAX 64

/** What the kernel asked for. */
enum usb_event {
    USB_NOTHING, /**< Nothing that the device need answer. */
    USB_REQUEST, /**< A request on endpoint 0, see setup and data. */
    USB_GONE     /**< The kernel let the device go. */
};

struct usb_read {
    uint32_t sequence;
    size_t size_bytes; /**< Most bytes it takes. */
};

/** A plug. Filled with zero before it is first plugged in. */
struct usb {
    int socket; /**< -1: not plugged in. */
    struct usb_read
        reads[USB_READS_MAX]; /**< Reads of the stream that wait for bytes, oldest first. */
    size_t read_count;
    uint32_t sequence; /**< Of the request at hand. */
    bool wants_bytes;  /**< The request wants an answer of at most asked_bytes. */
    size_t asked_bytes;
    uint8_t setup[8];
    uint8_t data[4096]; /**< What came with the request. */
    size_t data_bytes;
};

/** Plug the device into the first free port. @return false, with errno, where there is none. */
bool usb_plug(struct usb *usb);

/** Pull it out. */
void usb_unplug(struct usb *usb);

/** Take what the kernel asked for next; waits for it. */
enum usb_event usb_take(struct usb *usb);

/** Answer the request at hand: bytes, or -1 to refuse it. @return false when the kernel is gone. */
bool usb_answer(struct usb *usb, const uint8_t *bytes, int size_bytes);

/** Give bytes to the oldest read that waits; there is one. @return false when the kernel is gone.
 */
bool usb_give(struct usb *usb, const uint8_t *bytes, size_t size_bytes);

#endif
