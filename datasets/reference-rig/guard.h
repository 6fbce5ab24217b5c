/* Arming, drive commands, watchdog and limits (P-8), and the queue of events (P-7). */
#ifndef GUARD_H
#define GUARD_H

#include <stdbool.h>
#include <stdint.h>

#include "rig-hardware.h"

struct guard {
    bool armed;
    enum rig_mode mode;
    int32_t set_mv;
    uint32_t trips;
    const char *last_trip;
    uint32_t last_trip_us;
};

/* To be read inside hw_lock(). */
extern volatile struct guard guard;

void guard_start(const char *cause);
void guard_tick(uint32_t now_us); /* in the timer interrupt */
void guard_over_current(int32_t value_ma);

/* The rest from the main loop. */
void guard_feed(void);
const char *guard_arm(void); /* NULL, or what is against it */
/* False while disarmed; else `time_us` is when the bridge changed. */
bool guard_drive(int id, enum rig_mode mode, int32_t set_mv, int32_t ms, int32_t ma,
                 enum rig_mode after, uint32_t *time_us);
void guard_stop(bool disarm);

void guard_overrun(uint32_t sequence, uint32_t dropped);
void guard_burst_ready(uint32_t time_us, int32_t samples, int32_t before);
/* Queues lines of the events that wait, as far as there is room. */
void guard_report(void);

#endif
