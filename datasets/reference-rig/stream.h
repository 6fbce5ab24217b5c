/* Samples: the stream (P-6) and the burst memory (P-9). */
#ifndef STREAM_H
#define STREAM_H

#include <stdbool.h>
#include <stdint.h>

struct rate {
    uint32_t period_us;
    bool decimal, block;
};

extern const struct rate RATES[];
extern const int RATE_COUNT;

void stream_start(void); /* at start-up */
void stream_tick(const uint16_t *counts, uint32_t now_us); /* in the timer interrupt */
void stream_bridge_changed(void);                          /* the trigger; interrupts are out */

bool stream_on(void);
void stream_set(uint32_t period_us, bool block, uint32_t mask);
uint32_t stream_begin(void); /* counter of the first sample */
/* Sends what is held; the next counter, and how many were dropped. */
uint32_t stream_end(uint32_t *dropped);

bool burst_busy(void);
int32_t burst_samples(void); /* of the finished capture; 0 for none */
void burst_begin(int32_t samples, int32_t before, bool now);
void burst_give_up(void);
void burst_upload(int32_t from, int32_t samples);

/* Queues one line of samples or of an upload where none waits. False where it did not. */
bool stream_send(void);
void stream_zero(void); /* the position reads 0 here */

#endif
