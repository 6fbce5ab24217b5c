#include "guard.h"

#include <string.h>

#include "line.h"
#include "rig-config.h"
#include "stream.h"

enum event_name { BOOT, BRIDGE, DRIVE_ENDED, TRIP, OVERRUN, BURST_READY };

struct event {
    enum event_name name;
    uint32_t sequence, time_us;
    const char *word; /* cause, by or code */
    enum rig_mode mode;
    int64_t a, b;
};

static const char *const MODES[] = {"coast", "brake", "drive"};

volatile struct guard guard;
static volatile struct {
    int id; /* of the running drive; 0 for none */
    uint32_t end_us;
    enum rig_mode after;
    int32_t limit_ma;
    uint32_t fed_us;
    uint32_t slow_ms, low_ms;
    uint32_t tick;
} run;
static struct event events[RIG_EVENTS];
static volatile uint32_t events_in, events_out, event_sequence;

/* Everything down to `guard_feed` runs with the interrupts out, or in one of them. */

static void note(enum event_name name, uint32_t time_us, const char *word, int64_t a, int64_t b) {
    uint32_t sequence = event_sequence++; /* a lost event leaves a gap (P-7.2) */
    if (events_in - events_out == RIG_EVENTS) return;
    struct event *event = &events[events_in % RIG_EVENTS];
    event->name = name;
    event->sequence = sequence;
    event->time_us = time_us;
    event->word = word;
    event->mode = guard.mode;
    event->a = a;
    event->b = b;
    events_in++;
}

static void change(uint32_t now_us, enum rig_mode mode, int32_t set_mv, const char *by) {
    bool same = mode == guard.mode && set_mv == guard.set_mv;
    hw_bridge(mode, set_mv, run.limit_ma);
    if (same) return;
    guard.mode = mode;
    guard.set_mv = set_mv;
    note(BRIDGE, now_us, by, set_mv, 0);
    stream_bridge_changed();
}

static void end(uint32_t now_us, enum rig_mode mode, const char *by) {
    int id = run.id;
    run.id = 0;
    change(now_us, mode, 0, by);
    if (id) note(DRIVE_ENDED, now_us, by, id, 0);
}

static void settle(void) {
    guard.armed = false;
    run.limit_ma = RIG_CURRENT_MA;
    run.slow_ms = run.low_ms = 0;
}

static void trip(uint32_t now_us, const char *code, int32_t value_milli, int32_t limit_milli) {
    end(now_us, RIG_COAST, "trip");
    settle();
    if (guard.trips != UINT32_MAX) guard.trips++;
    guard.last_trip = code;
    guard.last_trip_us = now_us;
    note(TRIP, now_us, code, value_milli, limit_milli);
}

void guard_start(const char *cause) {
    memset((void *)&guard, 0, sizeof guard);
    memset((void *)&run, 0, sizeof run);
    run.limit_ma = RIG_CURRENT_MA;
    hw_bridge(RIG_COAST, 0, run.limit_ma); /* before anything else (P-10.1) */
    guard.last_trip = "none";
    events_in = events_out = event_sequence = 0;
    note(BOOT, hw_now_us(), cause, 0, 0);
}

void guard_over_current(int32_t value_ma) {
    if (guard.mode != RIG_COAST || guard.armed)
        trip(hw_now_us(), "over-current", value_ma, run.limit_ma);
}

static int32_t size_of(int32_t value) { return value < 0 ? -value : value; }

static void every_ms(uint32_t now_us) {
    struct rig_health health;
    hw_measure(&health);
    int32_t speed = size_of(health.speed_mrad_s);
    bool slow = RIG_STALL_MS && guard.mode == RIG_DRIVE && guard.set_mv && speed < RIG_STALL_MRAD_S;
    run.slow_ms = slow ? run.slow_ms + 1 : 0;
    run.low_ms = health.bus_mv < RIG_BUS_LOW_MV ? run.low_ms + 1 : 0;
    if (RIG_SPEED_MRAD_S && speed > RIG_SPEED_MRAD_S)
        trip(now_us, "over-speed", health.speed_mrad_s, RIG_SPEED_MRAD_S);
    else if (health.bus_mv > RIG_BUS_HIGH_MV)
        trip(now_us, "bus-high", health.bus_mv, RIG_BUS_HIGH_MV);
    else if (run.low_ms > 5)
        trip(now_us, "bus-low", health.bus_mv, RIG_BUS_LOW_MV);
    else if (RIG_STALL_MS && run.slow_ms > RIG_STALL_MS)
        trip(now_us, "stall", (int32_t)run.slow_ms, RIG_STALL_MS);
    else if (health.board_c > RIG_BOARD_LIMIT_C)
        trip(now_us, "over-temperature", 1000 * health.board_c, 1000 * RIG_BOARD_LIMIT_C);
}

void guard_tick(uint32_t now_us) {
    if (run.id && (int32_t)(now_us - run.end_us) >= 0) end(now_us, run.after, "duration");
    if (!guard.armed) return;
    uint32_t silent_us = now_us - run.fed_us;
    if (silent_us >= 1000u * RIG_WATCHDOG_MS)
        trip(now_us, "watchdog", (int32_t)(silent_us / 1000), RIG_WATCHDOG_MS);
    else if (++run.tick % (1000 / RIG_TICK_US) == 0)
        every_ms(now_us);
}

void guard_feed(void) {
    hw_lock();
    run.fed_us = hw_now_us();
    hw_unlock();
}

const char *guard_arm(void) {
    struct rig_health health;
    const char *against = NULL;
    hw_lock();
    hw_measure(&health);
    if (health.bus_mv < RIG_BUS_LOW_MV) against = "the bus voltage is too low";
    if (health.bus_mv > RIG_BUS_HIGH_MV) against = "the bus voltage is too high";
    if (RIG_SPEED_MRAD_S && size_of(health.speed_mrad_s) > RIG_SPEED_MRAD_S)
        against = "the shaft turns too fast";
    if (health.board_c > RIG_BOARD_LIMIT_C) against = "the bridge is too hot";
    if (!against) guard.armed = true;
    hw_unlock();
    return against;
}

bool guard_drive(int id, enum rig_mode mode, int32_t set_mv, int32_t ms, int32_t ma,
                 enum rig_mode after, uint32_t *time_us) {
    hw_lock();
    bool armed = guard.armed;
    *time_us = hw_now_us();
    if (armed) {
        run.id = id;
        run.end_us = *time_us + 1000u * (uint32_t)ms;
        run.after = after;
        run.limit_ma = ma;
        change(*time_us, mode, set_mv, "drive");
    }
    hw_unlock();
    return armed;
}

void guard_stop(bool disarm) {
    hw_lock();
    end(hw_now_us(), RIG_COAST, disarm ? "disarm" : "stop");
    if (disarm) settle();
    hw_unlock();
}

void guard_overrun(uint32_t sequence, uint32_t dropped) {
    hw_lock();
    note(OVERRUN, hw_now_us(), "", sequence, dropped);
    hw_unlock();
}

void guard_burst_ready(uint32_t time_us, int32_t samples, int32_t before) {
    note(BURST_READY, time_us, "", samples, before); /* called in the timer interrupt */
}

static void report(const struct event *event) {
    line_begin("E");
    line_number(event->sequence);
    line_number(event->time_us);
    switch (event->name) {
    case BOOT:
        line_text(" boot cause=");
        line_text(event->word);
        break;
    case BRIDGE:
        line_text(" bridge mode=");
        line_text(MODES[event->mode]);
        line_key("set-mv", event->a);
        line_text(" by=");
        line_text(event->word);
        break;
    case DRIVE_ENDED:
        line_text(" drive-ended");
        line_key("id", event->a);
        line_text(" by=");
        line_text(event->word);
        break;
    case TRIP:
        line_text(" trip code=");
        line_text(event->word);
        line_milli("value", (int32_t)event->a);
        line_milli("limit", (int32_t)event->b);
        break;
    case OVERRUN:
        line_text(" overrun");
        line_key("sequence", event->a);
        line_key("dropped", event->b);
        break;
    case BURST_READY:
        line_text(" burst-ready");
        line_key("samples", event->a);
        line_key("before", event->b);
        break;
    }
    line_end();
}

void guard_report(void) {
    while (line_room() > 128) {
        hw_lock();
        bool any = events_out != events_in;
        struct event event = events[events_out % RIG_EVENTS];
        if (any) events_out++;
        hw_unlock();
        if (!any) return;
        report(&event);
    }
}
