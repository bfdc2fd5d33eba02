package kerneltest

import (
	"context"
	"fmt"
	"os"
	"time"

	"golang.org/x/sys/unix"

	"soakline/collector/sampler"
	"soakline/collector/source/machine"
)

// suspend lets the machine sleep for some seconds under a recording.
func suspend() error {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	w, _, err := begin(ctx, machine.Sources("/"), sampler.Config{Reopen: time.Second, SlowRead: 50 * time.Millisecond})
	if err != nil {
		return err
	}
	w.tellChannels()
	time.Sleep(2 * time.Second)
	w.tell("awake")
	if err := os.WriteFile("/sys/class/rtc/rtc0/wakealarm", []byte("+4"), 0); err != nil {
		return err
	}
	before, asleep := clocks()
	if err := os.WriteFile("/sys/power/state", []byte("mem"), 0); err != nil {
		return err
	}
	after, woken := clocks()
	fmt.Printf("X slept|%v|%v\n", (after - before).Seconds(), (woken - asleep).Seconds())
	time.Sleep(3 * time.Second)
	w.tell("woken")
	fmt.Println("DONE")
	select {}
}

func clocks() (monotonic, boot time.Duration) {
	var m, b unix.Timespec
	unix.ClockGettime(unix.CLOCK_MONOTONIC, &m)
	unix.ClockGettime(unix.CLOCK_BOOTTIME, &b)
	return time.Duration(m.Nano()), time.Duration(b.Nano())
}
