/* What the board has to offer: seven functions, to be written for each board. */
#ifndef RIG_HARDWARE_H
#define RIG_HARDWARE_H

#include <stddef.h>
#include <stdint.h>

enum rig_mode { RIG_COAST, RIG_BRAKE, RIG_DRIVE };

struct rig_health {
    int32_t bus_mv;
    int32_t speed_mrad_s; /* 0 where it is not measured */
    int32_t board_c;
};

/* Microseconds from any start; wraps. */
uint32_t hw_now_us(void);

/* Sets the bridge at once, and the comparator that opens it by hardware above limit_ma in either
   direction (P-8.5) and then calls rig_over_current(). */
void hw_bridge(enum rig_mode mode, int32_t set_mv, int32_t limit_ma);

/* The latest readings; called in the timer interrupt, so it must not wait. */
void hw_measure(struct rig_health *health);

/* The next byte from the host, or -1. */
int hw_receive(void);

/* Takes as many of the bytes as it can without waiting; says how many. */
size_t hw_send(const uint8_t *bytes, size_t length);

/* Keeps the two interrupts below out, and lets them in again. Never nested. */
void hw_lock(void);
void hw_unlock(void);

#endif
