package guest

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"golang.org/x/sys/unix"
)

// Inside is true in the guest's first process. TestMain asks for it.
func Inside() bool { return os.Getpid() == 1 && os.Args[0] == "/init" }

// Mount mounts what the kernel shows.
func Mount() error {
	for _, m := range []struct{ kind, at string }{{"proc", "/proc"}, {"sysfs", "/sys"}, {"devtmpfs", "/dev"}} {
		if err := syscall.Mount(m.kind, m.at, m.kind, 0, ""); err != nil {
			return fmt.Errorf("mount %s: %w", m.at, err)
		}
	}
	return nil
}

// Load loads the modules that were packed.
func Load() error {
	files, _ := filepath.Glob("/modules/*.ko")
	for _, path := range files {
		if err := load(path); err != nil {
			return fmt.Errorf("module %s: %w", path, err)
		}
	}
	return nil
}

func load(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	parameters, _ := os.ReadFile(path + ".parameters")
	if err := unix.FinitModule(int(f.Fd()), string(parameters), 0); err != nil && !errors.Is(err, syscall.EEXIST) {
		return err
	}
	return nil
}

// Word gives the value of a word "key=value" on the kernel's command line.
func Word(key string) string {
	line, _ := os.ReadFile("/proc/cmdline")
	for _, w := range strings.Fields(string(line)) {
		if v, ok := strings.CutPrefix(w, key+"="); ok {
			return v
		}
	}
	return ""
}

// Off ends the guest by its power and never returns. The last line says how it went.
func Off(err error) {
	fmt.Println("GUEST", err)
	syscall.Reboot(syscall.LINUX_REBOOT_CMD_POWER_OFF)
	select {}
}
