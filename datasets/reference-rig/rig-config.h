/* What this board is: its name, channels, rates and limits. Edit this file first. */
#ifndef RIG_CONFIG_H
#define RIG_CONFIG_H

/* P-5.2 */
#define RIG_MODEL "Reference rig"
#define RIG_SERIAL "REF-0001"
#define RIG_FIRMWARE "1.0.0"
#define RIG_SIMULATED 1 /* 0 as soon as anything can move */
#define RIG_BAUD 0      /* 0 for USB; else the UART's rate */
#define RIG_CLOCK_PPM 50

/* The timer interrupt. A burst samples at every tick; stream periods are multiples of it. */
#define RIG_TICK_US 50

/* P-5.5: one line a channel, in the order in which rig_tick() gets the counts. */
#define RIG_CHANNELS 3
#define RIG_CHANNEL_LINES                                                                          \
    {"index=0 name=\"motor volts\" quantity=voltage unit=V scale=0.001 offset=0 kind=signed "      \
     "bits=16 low=-32768 high=32767 noise=0.002 aperture-us=0 delay-us=0",                         \
     "index=1 name=\"motor amps\" quantity=current unit=A scale=0.0005 offset=0 kind=signed "      \
     "bits=16 low=-32768 high=32767 noise=0.001 aperture-us=0 delay-us=0",                         \
     "index=2 name=\"encoder\" quantity=position unit=rad scale=0.00157079633 offset=0 "           \
     "kind=modulo bits=16 low=0 high=65535 noise=0 aperture-us=0 delay-us=0"}
#define RIG_POSITION 2 /* the channel that `zero` sets to 0; -1 where there is none */

/* P-5.6: periods in us, shortest first, and whether this line carries all channels in that format. */
#define RIG_RATES                                                                                  \
    {{100, 0, 1}, {1000, 1, 1}, {10000, 1, 1}, {100000, 1, 1}}

/* P-5.7, in the units of the page. 0 switches speed and stall off where speed is not measured. */
#define RIG_VOLTAGE_MV 12000
#define RIG_CURRENT_MA 8000
#define RIG_BUS_LOW_MV 6000
#define RIG_BUS_HIGH_MV 16000
#define RIG_SPEED_MRAD_S 800000
#define RIG_STALL_MS 3000
#define RIG_STALL_MRAD_S 2000
#define RIG_DURATION_MS 10000
#define RIG_WATCHDOG_MS 300
#define RIG_CURRENT_TRIP_US 50
#define RIG_COMMAND_TRIP_US 50
#define RIG_REVERSE 1
#define RIG_PWM_HZ 20000
#define RIG_BOARD_LIMIT_C 90
#define RIG_BURST_SAMPLES 1024

/* Memory. */
#define RIG_STREAM_SAMPLES 512 /* may wait for the line before they are dropped */
#define RIG_OUT_BYTES 4096     /* lines on their way out */
#define RIG_EVENTS 16

#endif
