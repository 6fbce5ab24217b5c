#include "line.h"

#include <string.h>

#include "rig-config.h"
#include "rig-hardware.h"

enum { LINE_MOST = 1024, TAIL = 6 }; /* "*HHHH\n" */

static char line[LINE_MOST];
static size_t length;
static uint8_t out[RIG_OUT_BYTES];
static size_t out_at, out_used;

uint16_t line_crc(const uint8_t *bytes, size_t count) {
    uint16_t crc = 0xFFFF;
    while (count--) {
        crc ^= (uint16_t)(*bytes++ << 8);
        for (int bit = 0; bit < 8; bit++)
            crc = (uint16_t)(crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1);
    }
    return crc;
}

void line_begin(const char *text) {
    length = 0;
    line_text(text);
}

void line_text(const char *text) {
    while (*text && length < LINE_MOST - TAIL) line[length++] = *text++;
}

static void put(char c) {
    if (length < LINE_MOST - TAIL) line[length++] = c;
}

static void digits(uint64_t number, int least) {
    char text[20];
    int n = 0;
    do text[n++] = (char)('0' + number % 10);
    while (number /= 10);
    while (n < least) text[n++] = '0';
    while (n) put(text[--n]);
}

static void signed_digits(int64_t number) {
    if (number < 0) put('-');
    digits((uint64_t)(number < 0 ? -number : number), 1);
}

void line_number(int64_t number) {
    put(' ');
    signed_digits(number);
}

void line_key(const char *key, int64_t number) {
    put(' ');
    line_text(key);
    put('=');
    signed_digits(number);
}

void line_milli(const char *key, int32_t thousandths) {
    int64_t size = thousandths < 0 ? -(int64_t)thousandths : thousandths;
    put(' ');
    line_text(key);
    put('=');
    if (thousandths < 0) put('-');
    digits((uint64_t)size / 1000, 1);
    put('.');
    digits((uint64_t)size % 1000, 3);
}

void line_words16(const uint16_t *words, size_t count) {
    static const char letters[] =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    size_t bytes = 2 * count;
    put(' ');
    for (size_t i = 0; i < bytes; i += 3) {
        uint32_t three = 0;
        for (size_t k = i; k < i + 3; k++) {
            uint32_t byte = k < bytes ? (words[k / 2] >> (k % 2 ? 8 : 0)) & 0xFF : 0;
            three = three << 8 | byte;
        }
        for (size_t k = 0; k < 4; k++)
            put(i + k <= bytes ? letters[three >> (18 - 6 * k) & 63] : '=');
    }
}

bool line_end(void) {
    static const char hex[] = "0123456789ABCDEF";
    uint16_t crc = line_crc((const uint8_t *)line, length);
    line[length++] = '*';
    for (int shift = 12; shift >= 0; shift -= 4) line[length++] = hex[crc >> shift & 15];
    line[length++] = '\n';
    if (length > line_room()) return false;
    for (size_t i = 0; i < length; i++) out[(out_at + out_used++) % RIG_OUT_BYTES] = (uint8_t)line[i];
    return true;
}

size_t line_room(void) { return RIG_OUT_BYTES - out_used; }
size_t line_waiting(void) { return out_used; }

void line_flush(void) {
    while (out_used) {
        size_t run = RIG_OUT_BYTES - out_at;
        size_t sent = hw_send(out + out_at, run < out_used ? run : out_used);
        if (sent == 0) return;
        out_at = (out_at + sent) % RIG_OUT_BYTES;
        out_used -= sent;
    }
}

static void wrong(struct fields *fields, const char *code, const char *words) {
    if (fields->code) return;
    fields->code = code;
    fields->words = words;
}

void fields_split(struct fields *fields, char *text) {
    memset(fields, 0, sizeof *fields);
    while (text && *text) {
        char *next = strchr(text, ' ');
        if (next) *next++ = 0;
        char *equals = strchr(text, '=');
        bool twice = false;
        if (equals) *equals++ = 0;
        for (int i = 0; i < fields->count; i++) twice |= strcmp(fields->key[i], text) == 0;
        if (!equals || !*equals || !*text || twice || fields->count == 8) {
            wrong(fields, "unknown-key", "what is not key=value, or twice there,");
            return;
        }
        fields->key[fields->count] = text;
        fields->value[fields->count++] = equals;
        text = next;
    }
}

static const char *find(struct fields *fields, const char *key) {
    for (int i = 0; i < fields->count; i++) {
        if (strcmp(fields->key[i], key)) continue;
        fields->used[i] = true;
        return fields->value[i];
    }
    wrong(fields, "missing-key", key);
    return NULL;
}

bool integer_of(const char *text, int64_t *number) {
    bool negative = *text == '-';
    const char *first = text + negative;
    int64_t value = 0;
    size_t count = strlen(first);
    if (count == 0 || count > 10) return false;
    if (*first == '0' && (count > 1 || negative)) return false;
    for (const char *c = first; *c; c++) {
        if (*c < '0' || *c > '9') return false;
        value = 10 * value + (*c - '0');
    }
    *number = negative ? -value : value;
    return true;
}

int32_t fields_integer(struct fields *fields, const char *key, int32_t low, int32_t high) {
    const char *text = find(fields, key);
    int64_t value = 0;
    if (!text) return low;
    if (!integer_of(text, &value) || value < low || value > high) {
        wrong(fields, "bad-value", key);
        return low;
    }
    return (int32_t)value;
}

int fields_word(struct fields *fields, const char *key, const char *const words[]) {
    const char *text = find(fields, key);
    for (int i = 0; text && words[i]; i++)
        if (strcmp(text, words[i]) == 0) return i;
    if (text) wrong(fields, "bad-value", key);
    return 0;
}

bool fields_good(struct fields *fields) {
    for (int i = 0; i < fields->count && !fields->code; i++)
        if (!fields->used[i])
            wrong(fields, "unknown-key", strlen(fields->key[i]) < 40 ? fields->key[i] : "a key");
    return fields->code == NULL;
}
