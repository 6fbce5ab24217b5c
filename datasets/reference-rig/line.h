/* Lines out, and the words of requests (P-3). */
#ifndef LINE_H
#define LINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

uint16_t line_crc(const uint8_t *bytes, size_t length);

/* One line is built at a time: begin, put, end. */
void line_begin(const char *text);
void line_text(const char *text);
void line_number(int64_t number);        /* after a space */
void line_key(const char *key, int64_t number); /* " key=number" */
void line_milli(const char *key, int32_t thousandths); /* " key=1.234" */
void line_words16(const uint16_t *words, size_t count); /* base64, low byte first */
/* Closes the line and queues it. False, and nothing queued, where there is no room. */
bool line_end(void);

size_t line_room(void);
size_t line_waiting(void);
/* Hands queued bytes to the hardware. */
void line_flush(void);

/* The fields of one request. Whatever is wrong first is kept in `code` and `words` (P-12.2). */
struct fields {
    char *key[8];
    char *value[8];
    bool used[8];
    int count;
    const char *code;
    const char *words;
};

void fields_split(struct fields *fields, char *text);
int32_t fields_integer(struct fields *fields, const char *key, int32_t low, int32_t high);
/* Index among the words, which end with NULL. */
int fields_word(struct fields *fields, const char *key, const char *const words[]);
/* After all were asked for: refuses what nobody asked for. True where all is well. */
bool fields_good(struct fields *fields);

/* False where the text is not an integer as P-3.6 has it. */
bool integer_of(const char *text, int64_t *number);

#endif
