//go:build !linux

package rawfs

import (
	"errors"
	"os"

	"soakline/collector/telemetry"
)

// Supported says whether sensor files can be read on this system.
const Supported = false

func openFile(string) (int, error)              { return -1, errors.ErrUnsupported }
func preadFile(int, []byte, int64) (int, error) { return 0, errors.ErrUnsupported }
func interrupted(error) bool                    { return false }
func closeFile(int) error                       { return nil }
func listDir(string) ([]string, error)          { return nil, errors.ErrUnsupported }
func exists(name string) bool                   { _, err := os.Stat(name); return err == nil }

// Fetch is the first half of ReadInt, the system call.
func (f *File) Fetch() telemetry.State { return f.fetchAgain() }

// StateOf says what a failed open or read means for a reading; here nothing is read.
func StateOf(err error) telemetry.State {
	if err == nil {
		return telemetry.Fresh
	}
	return telemetry.GapIO
}
