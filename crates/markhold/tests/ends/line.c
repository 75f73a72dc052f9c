/* A serial port of the 8250 family that writes down what is done to it; loaded before the C
 * library (LD_PRELOAD) into a program that keys a pseudo terminal, which has no RTS, no DTR,
 * no break, no divisor and no words of five bits. Each change is one line of the file named
 * in LINE_LOG:
 *
 *   NANOSECONDS PROCESS WHAT VALUE     monotonic clock; rts, dtr or break with 1 = asserted,
 *                                      or divisor
 *
 * Opening the port raises RTS and DTR, as Linux does, and what stands on its lines can be asked for
 * (TIOCMGET); that is written down nowhere. LINE_LOOP=cts has CTS follow RTS, as a plug that is wired
 * back, or a transmitter that tells that it is keyed; LINE_STUCK=rts keeps RTS up.
 *
 * The divisor is kept in the file LINE_LOG with .divisor behind it, for it outlives the
 * program, as it does in the driver. A port whose other end is gone fails as an adapter
 * that was pulled out. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <sys/syscall.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

static void note(const char *wire, int level) {
    struct timespec now;
    char line[80];
    const char *path = getenv("LINE_LOG");
    if (!path) return;
    clock_gettime(CLOCK_MONOTONIC, &now);
    int length = snprintf(line, sizeof line, "%lld %d %s %d\n",
                          now.tv_sec * 1000000000LL + now.tv_nsec, getpid(), wire, level);
    int file = open(path, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0600);
    if (file < 0) return;
    if (write(file, line, length) != length) abort();
    close(file);
}

static int real(int fd, unsigned long request, void *argument) {
    return syscall(SYS_ioctl, fd, request, argument);
}

/* struct termios2 of asm-generic/termbits.h, as far as it is needed. */
struct termios2 {
    unsigned iflag, oflag, cflag, lflag;
};
#define GET_TERMIOS2 0x802C542AUL
#define SET_TERMIOS2 0x402C542BUL
/* The length of a word that was asked for, which a pseudo terminal does not keep. */
static unsigned word = CS8;

/* The beginning of struct serial_struct of linux/serial.h. */
struct serial {
    int type, line;
    unsigned port;
    int irq, flags, fifo, divisor, base;
};

static int serial(const char *how, struct serial *state) {
    char path[4096];
    snprintf(path, sizeof path, "%s.divisor", getenv("LINE_LOG"));
    FILE *file = fopen(path, how);
    if (!file) return 0;
    int done = *how == 'r' ? fscanf(file, "%d %d", &state->flags, &state->divisor)
                           : fprintf(file, "%d %d", state->flags, state->divisor);
    fclose(file);
    return done;
}

/* What is up on each port of this process, by the number of its device. */
static int *levels(int fd) {
    static int all[4096];
    struct stat port;
    if (fstat(fd, &port) != 0) return &all[0];
    return &all[minor(port.st_rdev) % 4096];
}

static int is(const char *name, const char *value) {
    const char *found = getenv(name);
    return found && strcmp(found, value) == 0;
}

int ioctl(int fd, unsigned long request, ...) {
    va_list list;
    va_start(list, request);
    void *argument = va_arg(list, void *);
    va_end(list);
    switch (request) {
    case TIOCMBIS:
    case TIOCMBIC:
    case TIOCSBRK:
    case TIOCCBRK: {
        struct termios there;
        if (tcgetattr(fd, &there) != 0) return -1;
        int level = request == TIOCMBIS || request == TIOCSBRK;
        if (request == TIOCSBRK || request == TIOCCBRK) {
            note("break", level);
        } else {
            int bits = *(int *)argument;
            *levels(fd) = level ? *levels(fd) | bits : *levels(fd) & ~bits;
            if (*(int *)argument & TIOCM_RTS) note("rts", level);
            if (*(int *)argument & TIOCM_DTR) note("dtr", level);
        }
        return 0;
    }
    case TIOCEXCL:
        /* The first that is done to a port that was opened. */
        *levels(fd) = TIOCM_RTS | TIOCM_DTR;
        return real(fd, request, argument);
    case TIOCMGET: {
        struct termios there;
        if (tcgetattr(fd, &there) != 0) return -1;
        int up = *levels(fd) | (is("LINE_STUCK", "rts") ? TIOCM_RTS : 0);
        if (is("LINE_LOOP", "cts") && up & TIOCM_RTS) up |= TIOCM_CTS;
        *(int *)argument = up;
        return 0;
    }
    case TIOCGSERIAL: {
        struct serial *state = argument;
        state->type = 4;
        state->base = 115200;
        serial("r", state);
        return 0;
    }
    case TIOCSSERIAL:
        serial("w", argument);
        note("divisor", ((struct serial *)argument)->divisor);
        return 0;
    case SET_TERMIOS2:
        word = ((struct termios2 *)argument)->cflag & CSIZE;
        return real(fd, request, argument);
    case GET_TERMIOS2: {
        int done = real(fd, request, argument);
        struct termios2 *there = argument;
        if (done == 0) there->cflag = (there->cflag & ~CSIZE) | word;
        return done;
    }
    default:
        return real(fd, request, argument);
    }
}
