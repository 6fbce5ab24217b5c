/* A bench rig after firmware-protocol.md, version 1. The clauses are cited as P-… */
#ifndef RIG_H
#define RIG_H

#include "rig-config.h"
#include "rig-hardware.h"

/* Once, before the interrupts are on. The bridge is in coast when it returns. `cause` as in P-7.8. */
void rig_start(const char *cause);

/* In the timer interrupt, every RIG_TICK_US, with one count a channel. Ends drives, watches limits. */
void rig_tick(const uint16_t counts[RIG_CHANNELS]);

/* In the comparator's interrupt: the hardware has opened the bridge. */
void rig_over_current(int32_t value_ma);

/* In the main loop, as often as possible: requests in, lines out. */
void rig_poll(void);

#endif
