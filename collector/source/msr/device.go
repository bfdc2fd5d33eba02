package msr

import (
	"encoding/binary"

	"soakline/collector/rawfs"
	"soakline/collector/telemetry"
)

// device is /dev/cpu/N/msr: a register is read as 8 bytes at its number
// (kernel: arch/x86/kernel/msr.c).
type device struct {
	file *rawfs.File
	buf  [8]byte
}

func openDevice(tree *rawfs.Tree, cpu string) (registers, error) {
	f, err := tree.Open("dev/cpu/" + cpu + "/msr")
	if err != nil {
		return nil, err
	}
	return &device{file: f}, nil
}

func (d *device) read(address int64) (uint64, telemetry.State) {
	state := d.file.ReadAt(d.buf[:], address)
	if state == telemetry.GapEmpty || state == telemetry.GapIO {
		return 0, telemetry.GapDisabled // the processor refuses the register: EIO
	}
	return binary.LittleEndian.Uint64(d.buf[:]), state
}

func (d *device) Close() error { return d.file.Close() }
