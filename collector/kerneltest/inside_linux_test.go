package kerneltest

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"syscall"
	"testing"
	"time"

	"soakline/collector/kerneltest/guest"
	"soakline/collector/sampler"
	"soakline/collector/source/machine"
)

// TestMain is the guest's first process where it is /init, and its child without rights.
func TestMain(m *testing.M) {
	switch {
	case guest.Inside():
		guest.Off(inside())
	case os.Getenv("KERNELTEST_CHILD") != "":
		if err := unprivileged(); err != nil {
			fmt.Println("X child|", err)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// inside is what the guest does.
func inside() error {
	if err := guest.Mount(); err != nil {
		return err
	}
	os.WriteFile("/proc/sys/kernel/printk", []byte("1"), 0)
	mode := guest.Word("t.mode")
	if mode == "scout" {
		return scout()
	}
	if err := guest.Load(); err != nil {
		return err
	}
	switch mode {
	case "registers":
		return registers()
	case "suspend":
		return suspend()
	}
	return sensors()
}

// sensors is the run with the kernel as it is.
func sensors() error {
	bus, err := openStub()
	if err != nil {
		return err
	}
	if err := bus.fill(); err != nil {
		return err
	}
	if err := bus.drivers(); err != nil {
		return err
	}
	if err := notReady(bus); err != nil {
		return err
	}
	files(bus)
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	w, ended, err := begin(ctx, machine.Sources("/"), sampler.Config{Reopen: time.Second, SlowRead: 50 * time.Millisecond})
	if err != nil {
		return err
	}
	w.tellChannels()
	time.Sleep(5 * time.Second)
	w.tell("steady")
	if err := bus.move(7); err != nil {
		return err
	}
	stopLoad := load()
	time.Sleep(6 * time.Second)
	stopLoad()
	w.tell("moved")
	if err := bus.comeAndGo(w); err != nil {
		return err
	}
	stop()
	<-ended
	return child()
}

// comeAndGo takes a chip away under the open descriptors and brings it back.
func (b *smbus) comeAndGo(w *watch) error {
	f, err := b.thermometer(lm75)
	if err != nil {
		return err
	}
	defer f.Close()
	if err := b.remove(lm75); err != nil {
		return err
	}
	_, state := f.ReadInt()
	fmt.Printf("X gone|%d\n", state)
	time.Sleep(3 * time.Second)
	w.tell("removed")
	if err := b.add("lm75", lm75); err != nil {
		return err
	}
	_, state = f.ReadInt()
	fmt.Printf("X still gone|%d\n", state)
	time.Sleep(7 * time.Second)
	w.tell("returned")
	return nil
}

// load keeps the processor busy until it is called off.
func load() (stop func()) {
	quit := make(chan struct{})
	go func() {
		for {
			select {
			case <-quit:
				return
			default:
				for range 10000 {
				}
			}
		}
	}()
	return func() { close(quit) }
}

// child runs this program once more as a user without any right.
func child() error {
	c := exec.Command("/init")
	c.Env = []string{"KERNELTEST_CHILD=1"}
	c.Stdout, c.Stderr = os.Stdout, os.Stderr
	c.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	return c.Run()
}

// unprivileged is what that child does: a short recording.
func unprivileged() error {
	fmt.Println("U begin")
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	w, ended, err := begin(ctx, machine.Sources("/"), sampler.Config{SlowRead: 50 * time.Millisecond})
	if err != nil {
		return err
	}
	w.tellChannels()
	time.Sleep(1500 * time.Millisecond)
	w.tell("unprivileged")
	stop()
	<-ended
	return nil
}
