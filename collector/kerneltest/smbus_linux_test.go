package kerneltest

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"unsafe"

	"golang.org/x/sys/unix"
)

// smbus is a bus of chips that are nothing but registers (kernel:
// Documentation/i2c/i2c-stub.rst), filled through the bus's own device.
type smbus struct {
	number string
	fd     int
}

// The numbers of include/uapi/linux/i2c-dev.h and i2c.h.
const (
	slaveForce = 0x0706 // a driver may own the address
	transfer   = 0x0720
	byteData   = 2
	wordData   = 3
)

func openStub() (*smbus, error) {
	names, _ := filepath.Glob("/sys/bus/i2c/devices/i2c-*/name")
	for _, n := range names {
		if text, _ := os.ReadFile(n); strings.Contains(string(text), "stub") {
			number := strings.TrimPrefix(filepath.Base(filepath.Dir(n)), "i2c-")
			fd, err := unix.Open("/dev/i2c-"+number, unix.O_RDWR, 0)
			return &smbus{number, fd}, err
		}
	}
	return nil, fmt.Errorf("no stub bus")
}

func (b *smbus) put(chip, register uint8, size uint32, value uint16) error {
	if _, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(b.fd), slaveForce, uintptr(chip)); errno != 0 {
		return errno
	}
	data := [34]byte{byte(value), byte(value >> 8)}
	call := struct {
		direction, command uint8
		size               uint32
		data               *byte
	}{0, register, size, &data[0]}
	if _, _, errno := unix.Syscall(unix.SYS_IOCTL, uintptr(b.fd), transfer, uintptr(unsafe.Pointer(&call))); errno != 0 {
		return fmt.Errorf("chip %#x register %#x: %w", chip, register, errno)
	}
	return nil
}

// byteAt sets an eight-bit register, wordAt a word with the low byte first as SMBus has
// it, swappedAt one with the high byte first as the thermometers have it.
func (b *smbus) byteAt(chip, register uint8, v uint8) error {
	return b.put(chip, register, byteData, uint16(v))
}
func (b *smbus) wordAt(chip, register uint8, v uint16) error {
	return b.put(chip, register, wordData, v)
}
func (b *smbus) swappedAt(chip, register uint8, v uint16) error {
	return b.put(chip, register, wordData, v>>8|v<<8)
}

// add and remove tell the kernel that a chip is there or not.
func (b *smbus) add(driver string, chip uint8) error {
	return b.tell("new_device", fmt.Sprintf("%s %#x", driver, chip))
}
func (b *smbus) remove(chip uint8) error { return b.tell("delete_device", fmt.Sprintf("%#x", chip)) }

func (b *smbus) tell(file, text string) error {
	return os.WriteFile("/sys/bus/i2c/devices/i2c-"+b.number+"/"+file, []byte(text), 0)
}

// device is the sysfs folder of a chip, relative to the root.
func (b *smbus) device(chip uint8) string {
	return fmt.Sprintf("sys/bus/i2c/devices/%s-%04x", b.number, chip)
}
