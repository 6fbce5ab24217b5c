/* The reference rig on a POSIX system: a pseudo-terminal for the line, a small simulated motor for
   the bench. Prints the path of its serial device and runs until it is killed. */
#define _XOPEN_SOURCE 700
#define _DEFAULT_SOURCE

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "../rig.h"

/* The motor: ohm, henry, V s/rad, kg m2, N m, N m s/rad; and its supply and bridge. */
static const double R = 1.2, L = 0.8e-3, K = 0.018, J = 6e-6, COULOMB = 2e-3, VISCOUS = 2e-6;
static const double SUPPLY = 12.0, SUPPLY_OHM = 0.05, DIODES = 1.4, COUNTS_PER_TURN = 4000;
enum { SUBSTEPS = 10 };

static int terminal;
static uint32_t now_us;
static enum rig_mode mode;
static double set_volt, limit_amp = 1e9, amp, speed, angle, terminal_volt, bus = 12.0;

uint32_t hw_now_us(void) { return now_us; }

void hw_bridge(enum rig_mode next, int32_t set_mv, int32_t limit_ma) {
    mode = next;
    set_volt = set_mv / 1000.0;
    limit_amp = limit_ma / 1000.0;
}

void hw_measure(struct rig_health *health) {
    health->bus_mv = (int32_t)lround(1000 * bus);
    health->speed_mrad_s = (int32_t)lround(1000 * speed);
    health->board_c = 31;
}

int hw_receive(void) {
    static uint8_t bytes[256];
    static ssize_t count, at;
    if (at == count) {
        at = 0;
        count = read(terminal, bytes, sizeof bytes);
        if (count <= 0) count = 0;
    }
    return at < count ? bytes[at++] : -1;
}

size_t hw_send(const uint8_t *bytes, size_t length) {
    ssize_t sent = write(terminal, bytes, length);
    return sent > 0 ? (size_t)sent : 0;
}

/* Interrupts and main loop are one thread here. */
void hw_lock(void) {}
void hw_unlock(void) {}

static void step(double dt) {
    double back_emf = K * speed;
    if (mode == RIG_COAST) {
        /* What is left of the current ends against bus and diodes. */
        double against = amp > 0 ? -(bus + DIODES) : bus + DIODES;
        double next = amp + dt * (against - R * amp - back_emf) / L;
        amp = amp == 0 || (next > 0) != (amp > 0) ? 0 : next;
        terminal_volt = amp == 0 ? back_emf : against;
    } else {
        terminal_volt = mode == RIG_DRIVE ? set_volt : 0;
        amp += dt * (terminal_volt - R * amp - back_emf) / L;
    }
    double torque = K * amp - VISCOUS * speed;
    if (speed == 0 && fabs(torque) <= COULOMB) return;
    double direction = speed != 0 ? (speed > 0 ? 1 : -1) : torque > 0 ? 1 : -1;
    double next = speed + dt * (torque - COULOMB * direction) / J;
    speed = speed != 0 && (next > 0) != (speed > 0) ? 0 : next;
    angle += dt * speed;
}

/* A count or two of noise, the same in every run. */
static int noise(void) {
    static uint32_t state = 12345;
    state = 1664525u * state + 1013904223u;
    return (int)(state >> 29) - 4 + (int)((state >> 28) & 1);
}

static void tick(void) {
    uint16_t counts[RIG_CHANNELS];
    for (int i = 0; i < SUBSTEPS; i++) {
        step(RIG_TICK_US * 1e-6 / SUBSTEPS);
        if (mode != RIG_COAST && fabs(amp) > limit_amp) {
            mode = RIG_COAST; /* the comparator needs no program */
            rig_over_current((int32_t)lround(1000 * amp));
        }
    }
    bus = SUPPLY - SUPPLY_OHM * (mode == RIG_DRIVE ? fabs(amp * set_volt) / SUPPLY : 0);
    counts[0] = (uint16_t)(int16_t)(lround(1000 * terminal_volt) + noise());
    counts[1] = (uint16_t)(int16_t)(lround(2000 * amp) + noise());
    counts[2] = (uint16_t)(int64_t)floor(angle * COUNTS_PER_TURN / (2 * M_PI));
    rig_tick(counts);
}

/* Both ends stay open here, so that hosts may come and go. */
static void open_terminal(void) {
    struct termios settings;
    terminal = posix_openpt(O_RDWR | O_NOCTTY);
    if (terminal < 0 || grantpt(terminal) || unlockpt(terminal)) {
        perror("no pseudo-terminal");
        exit(1);
    }
    int device = open(ptsname(terminal), O_RDWR | O_NOCTTY);
    if (device < 0 || tcgetattr(device, &settings)) {
        perror(ptsname(terminal));
        exit(1);
    }
    settings.c_iflag &= ~(tcflag_t)(BRKINT | ICRNL | INLCR | IGNCR | INPCK | ISTRIP | IXON | PARMRK);
    settings.c_oflag &= ~(tcflag_t)OPOST;
    settings.c_lflag &= ~(tcflag_t)(ECHO | ECHONL | ICANON | IEXTEN | ISIG);
    tcsetattr(device, TCSANOW, &settings);
    fcntl(terminal, F_SETFL, O_NONBLOCK);
    printf("%s\n", ptsname(terminal));
    fflush(stdout);
}

static uint32_t clock_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint32_t)((uint64_t)now.tv_sec * 1000000u + (uint64_t)now.tv_nsec / 1000u);
}

int main(void) {
    const struct timespec pause = {0, 500000};
    open_terminal();
    now_us = clock_us();
    rig_start("power");
    for (;;) {
        uint32_t until = clock_us();
        while (until - now_us >= RIG_TICK_US && until - now_us < 0x80000000u) {
            now_us += RIG_TICK_US;
            tick();
            if (now_us / RIG_TICK_US % 20 == 0) rig_poll(); /* also while time is caught up */
        }
        rig_poll();
        nanosleep(&pause, NULL);
    }
}
