#include "stream.h"

#include <string.h>

#include "guard.h"
#include "line.h"
#include "rig-config.h"
#include "rig-hardware.h"

enum { BLOCK_US = 20000, HEAD = 40 };

const struct rate RATES[] = RIG_RATES;
const int RATE_COUNT = sizeof RATES / sizeof *RATES;

struct sample {
    uint32_t sequence;
    uint16_t counts[RIG_CHANNELS];
};

static struct sample ring[RIG_STREAM_SAMPLES];
static volatile uint32_t ring_in, ring_out;
static volatile struct {
    bool on;
    uint32_t ticks, tick; /* of a period, and gone by */
    uint32_t sequence;    /* of the next sample */
    uint32_t first, start_us;
    uint32_t dropped;
} stream;
static uint32_t period_us, mask, next_sequence;
static bool block;
static volatile uint16_t position, zero; /* counts of the position channel: now, and at its zero */

static uint16_t memory[RIG_BURST_SAMPLES][RIG_CHANNELS];
static volatile struct {
    bool busy, triggered, done;
    int32_t wanted, before, taken, at_trigger, samples;
    uint32_t last_us;
} burst;
static int32_t upload_at, upload_until;

void stream_start(void) {
    memset((void *)&stream, 0, sizeof stream);
    memset((void *)&burst, 0, sizeof burst);
    ring_in = ring_out = 0;
    upload_at = upload_until = 0;
    zero = 0;
    stream_set(RATES[0].period_us, true, (1u << RIG_CHANNELS) - 1);
}

static void copy(uint16_t *to, const uint16_t *counts) {
    for (int c = 0; c < RIG_CHANNELS; c++)
        to[c] = (uint16_t)(c == RIG_POSITION ? counts[c] - zero : counts[c]);
}

static void burst_tick(const uint16_t *counts, uint32_t now_us) {
    copy(memory[burst.taken % burst.wanted], counts);
    burst.taken++;
    burst.last_us = now_us;
    if (!burst.triggered || burst.taken - burst.at_trigger < burst.wanted - burst.before) return;
    int32_t before = burst.at_trigger < burst.before ? burst.at_trigger : burst.before;
    int32_t after = burst.taken - burst.at_trigger;
    burst.before = before;
    burst.samples = before + after;
    burst.busy = false;
    burst.done = true;
    guard_burst_ready(now_us - (uint32_t)(after - 1) * RIG_TICK_US, burst.samples, before);
}

void stream_tick(const uint16_t *counts, uint32_t now_us) {
    if (RIG_POSITION >= 0) position = counts[RIG_POSITION];
    if (burst.busy) burst_tick(counts, now_us);
    if (!stream.on || ++stream.tick < stream.ticks) return;
    stream.tick = 0;
    uint32_t sequence = stream.sequence++;
    if (ring_in - ring_out == RIG_STREAM_SAMPLES) {
        stream.dropped++; /* the gap shows in the counters (P-6.7) */
        return;
    }
    struct sample *sample = &ring[ring_in % RIG_STREAM_SAMPLES];
    sample->sequence = sequence;
    copy(sample->counts, counts);
    ring_in++;
}

void stream_bridge_changed(void) {
    if (!burst.busy || burst.triggered) return;
    burst.triggered = true;
    burst.at_trigger = burst.taken;
}

bool stream_on(void) { return stream.on; }

void stream_set(uint32_t period, bool as_block, uint32_t channels) {
    period_us = period;
    block = as_block;
    mask = channels;
}

uint32_t stream_begin(void) {
    hw_lock();
    stream.ticks = period_us / RIG_TICK_US;
    stream.tick = 0;
    stream.first = next_sequence = stream.sequence;
    stream.start_us = hw_now_us();
    stream.dropped = 0;
    ring_out = ring_in;
    stream.on = true;
    hw_unlock();
    return stream.first;
}

static int selected(const struct sample *sample, uint16_t *counts) {
    int n = 0;
    for (int c = 0; c < RIG_CHANNELS; c++)
        if (mask >> c & 1) counts[n++] = sample->counts[c];
    return n;
}

static bool is_signed(int channel) { return channel != RIG_POSITION; }

static uint32_t time_of(uint32_t sequence) {
    return stream.start_us + (sequence - stream.first + 1) * period_us;
}

/* Samples that one block may hold: what fits a line, and 20 ms (P-6.6). */
static uint32_t block_most(int channels) {
    uint32_t bytes = 1024;
    if (RIG_BAUD && RIG_BAUD / 500 < bytes) bytes = RIG_BAUD / 500;
    uint32_t fits = (bytes - HEAD) / 4 * 3 / 2 / (uint32_t)channels;
    uint32_t in_time = BLOCK_US / period_us;
    uint32_t most = fits < in_time ? fits : in_time;
    return most ? most : 1;
}

/* Sends one line of what is held, at the latest when the next sample would be too late for it. */
static bool send_samples(bool all) {
    static uint16_t counts[512];
    hw_lock();
    uint32_t held = ring_in - ring_out;
    uint32_t now_us = hw_now_us();
    hw_unlock();
    if (held == 0) return false;
    const struct sample *first = &ring[ring_out % RIG_STREAM_SAMPLES];
    int channels = selected(first, counts);
    uint32_t most = block ? block_most(channels) : 1;
    bool due = all || now_us - time_of(first->sequence) + period_us > BLOCK_US;
    if (held < most && !due) return false;
    if (first->sequence != next_sequence) { /* said before what follows the gap (P-7.6) */
        guard_overrun(next_sequence, first->sequence - next_sequence);
        next_sequence = first->sequence;
        guard_report();
    }
    uint32_t count = 1;
    while (count < most && count < held) {
        const struct sample *sample = &ring[(ring_out + count) % RIG_STREAM_SAMPLES];
        if (sample->sequence != first->sequence + count) break;
        selected(sample, counts + count * (uint32_t)channels);
        count++;
    }
    line_begin(block ? "B" : "S");
    line_number(first->sequence);
    line_number(time_of(first->sequence));
    if (block) {
        line_number(count);
        line_words16(counts, count * (uint32_t)channels);
    } else {
        for (int c = 0, n = 0; c < RIG_CHANNELS; c++)
            if (mask >> c & 1) {
                line_number(is_signed(c) ? (int16_t)counts[n] : counts[n]);
                n++;
            }
    }
    if (!line_end()) return false;
    next_sequence = first->sequence + count;
    hw_lock();
    ring_out += count;
    hw_unlock();
    return true;
}

uint32_t stream_end(uint32_t *dropped) {
    hw_lock();
    stream.on = false;
    hw_unlock();
    while (line_room() > 1024 + 256 && send_samples(true)) line_flush();
    hw_lock();
    uint32_t left = ring_in - ring_out;
    stream.dropped += left; /* the line is stuck */
    ring_out = ring_in;
    hw_unlock();
    if (next_sequence != stream.sequence) {
        guard_overrun(next_sequence, stream.sequence - next_sequence);
        next_sequence = stream.sequence;
    }
    guard_report();
    *dropped = stream.dropped;
    stream.dropped = 0;
    return stream.sequence;
}

bool burst_busy(void) { return burst.busy; }
int32_t burst_samples(void) { return burst.done ? burst.samples : 0; }

void burst_begin(int32_t samples, int32_t before, bool now) {
    hw_lock();
    memset((void *)&burst, 0, sizeof burst);
    burst.wanted = samples;
    burst.before = before;
    burst.triggered = now;
    burst.busy = true;
    upload_at = upload_until = 0;
    hw_unlock();
}

void burst_give_up(void) {
    hw_lock();
    if (burst.busy && !burst.triggered) burst.busy = false;
    hw_unlock();
}

void burst_upload(int32_t from, int32_t samples) {
    upload_at = from;
    upload_until = from + samples;
}

static void send_upload(void) {
    static uint16_t counts[512];
    int32_t most = (int32_t)((1024 - HEAD) / 4 * 3 / 2 / RIG_CHANNELS);
    int32_t count = upload_until - upload_at < most ? upload_until - upload_at : most;
    int32_t oldest = burst.taken - burst.samples;
    for (int32_t k = 0; k < count; k++)
        memcpy(counts + k * RIG_CHANNELS, memory[(oldest + upload_at + k) % burst.wanted],
               sizeof memory[0]);
    line_begin("U");
    line_number(upload_at);
    line_number(burst.last_us - (uint32_t)(burst.samples - 1 - upload_at) * RIG_TICK_US);
    line_number(count);
    line_words16(counts, (size_t)count * RIG_CHANNELS);
    if (line_end()) upload_at += count;
}

bool stream_send(void) {
    /* A line at a time, so that an answer never waits behind more than one (P-3.8). */
    if (line_waiting()) return false;
    if (stream.on && send_samples(false)) return true;
    if (upload_at >= upload_until) return false;
    send_upload();
    return true;
}

void stream_zero(void) {
    hw_lock();
    zero = position;
    hw_unlock();
}
