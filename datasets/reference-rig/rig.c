#include "rig.h"

#include <string.h>

#include "guard.h"
#include "line.h"
#include "stream.h"

enum { REQUEST_MOST = 128 };

#define TEXT_OF(x) #x
#define TEXT(x) TEXT_OF(x)

static char request[REQUEST_MOST];
static size_t request_length;
static uint32_t bad_lines;

void rig_start(const char *cause) {
    guard_start(cause);
    stream_start();
    request_length = 0;
    bad_lines = 0;
}

void rig_tick(const uint16_t counts[RIG_CHANNELS]) {
    uint32_t now_us = hw_now_us();
    guard_tick(now_us);
    stream_tick(counts, now_us);
}

void rig_over_current(int32_t value_ma) { guard_over_current(value_ma); }

/* Answers (P-4.4). What carries out a verb answers OK itself and returns NULL, or returns the code of
   its refusal. */

static const char *words; /* of the refusal, for a person */

static const char *no(const char *code, const char *why) {
    words = why;
    return code;
}

static void ok_at(int id, uint32_t time_us) {
    line_begin("A");
    line_number(id);
    line_text(" OK");
    line_key("time-us", time_us);
}

static const char *ok(int id) {
    ok_at(id, hw_now_us());
    line_end();
    return NULL;
}

static void refuse(int id, const char *code, const char *why, const char *more) {
    line_begin("A");
    line_number(id);
    line_text(" ERR ");
    line_text(code);
    line_text(" ");
    line_text(why);
    line_text(more);
    line_end();
}

/* Declarations (P-5). */

static void declare(int id, const char *name) {
    line_begin("D");
    line_number(id);
    line_text(" ");
    line_text(name);
}

static const char *declared(int id, int lines) {
    ok_at(id, hw_now_us());
    line_key("lines", lines);
    line_end();
    return NULL;
}

static const char *identify(int id, struct fields *fields) {
    (void)fields;
    declare(id, "identity protocol=1 model=\"" RIG_MODEL "\" serial=\"" RIG_SERIAL "\" firmware=\"");
    line_text(RIG_FIRMWARE "\" simulated=" TEXT(RIG_SIMULATED) " baud=" TEXT(RIG_BAUD));
    line_text(" clock-ppm=" TEXT(RIG_CLOCK_PPM));
    line_end();
    return declared(id, 1);
}

static const char *channels(int id, struct fields *fields) {
    static const char *const lines[RIG_CHANNELS] = RIG_CHANNEL_LINES;
    (void)fields;
    for (int c = 0; c < RIG_CHANNELS; c++) {
        declare(id, "channel ");
        line_text(lines[c]);
        line_end();
    }
    return declared(id, RIG_CHANNELS);
}

static const char *rates(int id, struct fields *fields) {
    (void)fields;
    for (int r = 0; r < RATE_COUNT; r++) {
        declare(id, "rate");
        line_key("period-ns", 1000 * (int64_t)RATES[r].period_us);
        line_key("decimal", RATES[r].decimal);
        line_key("block", RATES[r].block);
        line_end();
    }
    return declared(id, RATE_COUNT);
}

static const char *limits(int id, struct fields *fields) {
    (void)fields;
    declare(id, "limits voltage-mv=" TEXT(RIG_VOLTAGE_MV) " current-ma=" TEXT(RIG_CURRENT_MA));
    line_text(" bus-low-mv=" TEXT(RIG_BUS_LOW_MV) " bus-high-mv=" TEXT(RIG_BUS_HIGH_MV));
    line_text(" speed-mrad-s=" TEXT(RIG_SPEED_MRAD_S) " stall-ms=" TEXT(RIG_STALL_MS));
    line_text(" stall-mrad-s=" TEXT(RIG_STALL_MRAD_S) " duration-ms=" TEXT(RIG_DURATION_MS));
    line_text(" watchdog-ms=" TEXT(RIG_WATCHDOG_MS) " current-trip-us=" TEXT(RIG_CURRENT_TRIP_US));
    line_text(" command-trip-us=" TEXT(RIG_COMMAND_TRIP_US) " reverse=" TEXT(RIG_REVERSE));
    line_text(" pwm-hz=" TEXT(RIG_PWM_HZ) " burst-samples=" TEXT(RIG_BURST_SAMPLES));
    line_key("burst-period-ns", 1000 * RIG_TICK_US);
    line_end();
    return declared(id, 1);
}

static const char *status(int id, struct fields *fields) {
    static const char *const modes[] = {"coast", "brake", "drive"};
    struct rig_health health;
    (void)fields;
    hw_lock();
    struct guard now = guard;
    hw_measure(&health);
    hw_unlock();
    declare(id, "status bridge=");
    line_text(modes[now.mode]);
    line_key("armed", now.armed);
    line_key("set-mv", now.set_mv);
    line_key("streaming", stream_on());
    line_key("bus-mv", health.bus_mv);
    line_key("trips", now.trips);
    line_key("bad-lines", bad_lines);
    line_text(" trip=");
    line_text(now.last_trip);
    line_key("trip-time-us", now.trips ? now.last_trip_us : 0);
    line_key("board-c", health.board_c);
    line_end();
    return declared(id, 1);
}

/* What changes something. */

static const char *alive(int id, struct fields *fields) {
    (void)fields;
    return ok(id);
}

static const char *arm(int id, struct fields *fields) {
    (void)fields;
    const char *against = guard_arm();
    return against ? no("unsafe", against) : ok(id);
}

static const char *sampling(int id, struct fields *fields) {
    static const char *const formats[] = {"decimal", "block", NULL};
    int64_t period_ns = fields_integer(fields, "period-ns", 1000, 2000000000);
    bool block = fields_word(fields, "format", formats) == 1;
    int32_t mask = fields_integer(fields, "channels", 1, (1 << RIG_CHANNELS) - 1);
    if (!fields_good(fields)) return fields->code;
    if (stream_on()) return no("not-now", "the stream is on");
    if (burst_busy()) return no("not-now", "a burst is under way");
    for (int r = 0; r < RATE_COUNT; r++) {
        if (1000 * (int64_t)RATES[r].period_us != period_ns) continue;
        if (!(block ? RATES[r].block : RATES[r].decimal))
            return no("too-fast", "take a longer period or blocks");
        stream_set(RATES[r].period_us, block, (uint32_t)mask);
        return ok(id);
    }
    return no("bad-value", "period-ns must be one that rates declares");
}

static const char *stream(int id, struct fields *fields) {
    static const char *const modes[] = {"off", "on", NULL};
    bool on = fields_word(fields, "mode", modes) == 1;
    if (!fields_good(fields)) return fields->code;
    if (on && stream_on()) return no("not-now", "the stream is on");
    uint32_t dropped = 0;
    uint32_t sequence = on ? stream_begin() : stream_end(&dropped);
    ok_at(id, hw_now_us());
    line_key("sequence", sequence);
    if (!on) line_key("dropped", dropped);
    line_end();
    return NULL;
}

static const char *drive(int id, struct fields *fields) {
    static const char *const modes[] = {"coast", "brake", "voltage", NULL};
    static const char *const afters[] = {"coast", "brake", NULL};
    int32_t set_mv = 0;
    int mode = fields_word(fields, "mode", modes);
    if (mode == RIG_DRIVE) set_mv = fields_integer(fields, "voltage-mv", -1000000, 1000000);
    int32_t ms = fields_integer(fields, "duration-ms", 1, 600000);
    int32_t ma = fields_integer(fields, "current-ma", 1, 1000000);
    int after = fields_word(fields, "after", afters);
    if (!fields_good(fields)) return fields->code;
    if (set_mv > RIG_VOLTAGE_MV || set_mv < (RIG_REVERSE ? -RIG_VOLTAGE_MV : 0))
        return no("over-limit", "voltage-mv is limited to " TEXT(RIG_VOLTAGE_MV));
    if (ms > RIG_DURATION_MS)
        return no("over-limit", "duration-ms is limited to " TEXT(RIG_DURATION_MS));
    if (ma > RIG_CURRENT_MA)
        return no("over-limit", "current-ma is limited to " TEXT(RIG_CURRENT_MA));
    uint32_t time_us;
    if (!guard_drive(id, (enum rig_mode)mode, set_mv, ms, ma, (enum rig_mode)after, &time_us))
        return no("not-armed", "arm before driving");
    ok_at(id, time_us);
    line_end();
    return NULL;
}

static const char *burst(int id, struct fields *fields) {
    static const char *const triggers[] = {"now", "bridge", NULL};
    int32_t samples = fields_integer(fields, "samples", 1, RIG_BURST_SAMPLES);
    int32_t before = fields_integer(fields, "before", 0, samples - 1);
    bool now = fields_word(fields, "trigger", triggers) == 0;
    if (!fields_good(fields)) return fields->code;
    burst_begin(samples, before, now);
    return ok(id);
}

static const char *upload(int id, struct fields *fields) {
    int32_t from = fields_integer(fields, "from", 0, 1000000);
    int32_t samples = fields_integer(fields, "samples", 1, 1000000);
    if (!fields_good(fields)) return fields->code;
    if (!burst_samples()) return no("no-data", "nothing has been captured");
    if (from + samples > burst_samples()) return no("bad-value", "the capture has fewer samples");
    burst_upload(from, samples);
    ok_at(id, hw_now_us());
    line_key("samples", samples);
    line_end();
    return NULL;
}

static const char *zero(int id, struct fields *fields) {
    (void)fields;
    if (stream_on()) return no("not-now", "the stream is on");
    if (burst_busy()) return no("not-now", "a burst is under way");
    if (RIG_POSITION < 0) return no("not-fitted", "there is no position channel");
    stream_zero();
    return ok(id);
}

static const struct {
    const char *verb;
    const char *(*act)(int id, struct fields *fields);
    bool has_fields;
} VERBS[] = {
    {"identify", identify, false}, {"channels", channels, false},
    {"burst-channels", channels, false}, /* every sample is instantaneous: both are the same */
    {"rates", rates, false},       {"limits", limits, false},
    {"status", status, false},     {"alive", alive, false},
    {"arm", arm, false},           {"zero", zero, false},
    {"sampling", sampling, true},  {"stream", stream, true},
    {"drive", drive, true},        {"burst", burst, true},
    {"upload", upload, true},
};

static const char *carry_out(int id, const char *verb, struct fields *fields) {
    for (size_t v = 0; v < sizeof VERBS / sizeof *VERBS; v++) {
        if (strcmp(verb, VERBS[v].verb)) continue;
        if (!VERBS[v].has_fields && !fields_good(fields)) return fields->code;
        return VERBS[v].act(id, fields);
    }
    return no("unknown-verb", "see P-4.6 for the verbs");
}

static void answer(int id, const char *verb, char *rest) {
    struct fields fields;
    /* Stopping is never refused for what else stands in the line (P-8.7). */
    bool disarm = strcmp(verb, "disarm") == 0;
    if (disarm || strcmp(verb, "stop") == 0) {
        if (disarm) burst_give_up();
        guard_stop(disarm);
        ok(id);
        return;
    }
    fields_split(&fields, rest);
    const char *code = carry_out(id, verb, &fields);
    if (!code) return;
    if (code != fields.code) refuse(id, code, words, "");
    else if (*code == 'm') refuse(id, code, fields.words, " is missing");
    else if (*code == 'b') refuse(id, code, fields.words, " has a value that is not on offer");
    else refuse(id, code, fields.words, " does not belong here");
}

/* `request` without its line end. False where it cannot be read (P-3.7). */
static bool read_request(void) {
    static const char hex[] = "0123456789ABCDEF";
    uint16_t crc = 0;
    if (request_length < 6) return false;
    size_t star = request_length - 5;
    if (request[star] != '*') return false;
    for (size_t i = star + 1; i < request_length; i++) {
        const char *digit = strchr(hex, request[i]);
        if (!digit || !*digit) return false;
        crc = (uint16_t)(crc << 4 | (digit - hex));
    }
    if (crc != line_crc((const uint8_t *)request, star)) return false;
    for (size_t i = 0; i < star; i++)
        if (request[i] < ' ' || request[i] > '~' || request[i] == '*') return false;
    request[star] = 0;
    if (strncmp(request, "Q ", 2) || request[star - 1] == ' ') return false;
    char *id_text = request + 2;
    char *verb = strchr(id_text, ' ');
    if (!verb) return false;
    *verb++ = 0;
    char *rest = strchr(verb, ' ');
    if (rest) *rest++ = 0;
    int64_t id;
    if (!*verb || !integer_of(id_text, &id) || id < 1 || id > 65535) return false;
    guard_feed();
    answer((int)id, verb, rest);
    return true;
}

static void take(char byte) {
    if (byte != '\n') {
        /* One more than a request may have marks it as too long. */
        if (request_length < REQUEST_MOST) request[request_length++] = byte;
        return;
    }
    bool whole = request_length < REQUEST_MOST;
    if (whole && request_length && request[request_length - 1] == '\r') request_length--;
    if (request_length && !(whole && read_request()) && bad_lines != UINT32_MAX) bad_lines++;
    request_length = 0;
}

void rig_poll(void) {
    int byte;
    while ((byte = hw_receive()) >= 0) take((char)byte);
    guard_report();
    line_flush();
    /* As long as the hardware takes them at once; then it is time to look for requests again. */
    for (int lines = 0; lines < 64 && stream_send(); lines++) line_flush();
}
