package tracefile

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const badFolder = "../../testdata/traces/bad"

// TestBadFiles: every file of the folder is refused with one clear error at its place.
func TestBadFiles(t *testing.T) {
	want := map[string]string{
		"no-number":              `:7:5: expected a number in W, found "abc"`,
		"infinite-number":        `:2:3: expected a number in W, found "inf"`,
		"decimal-comma":          `:2:7: expected 3 cells, as in the header, found 4`,
		"time-backwards":         `:4:1: expected a time not before the 0.2 s of the row above, found 0.1 s: time runs backwards`,
		"time-backwards-rfc3339": `:3:1: expected a time not before the 0 s of the row above, found -1 s: time runs backwards`,
		"time-mixed":             `:3:1: expected a time in RFC 3339, found "1.5"`,
		"time-missing-cell":      `:3:1: expected a time in seconds, found ""`,
		"duplicate-name":         `:1:20: expected each channel's name once, found "fan" in columns 2 and 3`,
		"no-rows":                `:2:1: expected at least one row of values after the header, found the end of the file`,
		"empty":                  `:1:1: expected a header line, time [s] and the channels, found the end of the file`,
		"notes-only":             `:2:1: expected a header line, time [s] and the channels, found the end of the file`,
		"no-time":                `:1:1: expected a column of time, time [s] for instance, found none in "package power [W],die temperature [degC]"`,
		"time-in-watts":          `:1:1: expected a column of time, time [s] for instance, found none in "time [W],die temperature [degC]"`,
		"time-only":              `:1:9: expected a channel after the time, found the end of the line`,
		"ragged-short":           `:3:5: expected 3 cells, as in the header, found 2`,
		"ragged-long":            `:3:12: expected 3 cells, as in the header, found 4`,
		"unknown-unit":           `:1:10: expected a unit that is known, one of % 1 1/s`,
		"no-name":                `:1:10: expected a channel's name and unit, package power [W] for instance, found "[W]"`,
		"trailing-comma":         `:3:5: expected nothing in the last column, whose header is empty, found "7"`,
		"decimal-signs-mixed":    `:3:3: expected a number in W with a decimal comma, found "5.5"`,
		"grouped-digits":         `:3:3: expected a number in W with a decimal comma, found "1.005,5"`,
		"date-ambiguous":         `:2:1: expected a date whose day and month can be told apart (say whether dates are day-first or month-first), found "03/01/2026 20:15:00"`,
		"time-of-day-backwards":  `:3:1: expected a time not before the 72902 s of the row above, found 72901 s: time runs backwards`,
		"date-unreadable":        `:2:9: expected a time in seconds, or as 2026-03-01T20:15:00Z, 2026-03-01 20:15:00 or 20:15:00, found "1 March noon"`,
		"score-no-direction":     `:1:10: expected a score as: total = 1510 [points], higher is better, found "1510 points"`,
		"score-no-time":          `:1:10: expected a score's time in seconds, found "noon"`,
		"time-nan":               `:2:1: expected a time in seconds, or as 2026-03-01T20:15:00Z, 2026-03-01 20:15:00 or 20:15:00, found "NaN"`,
		"nul-byte":               `:3:6: expected text in UTF-8, found a NUL byte (a binary file, or UTF-16: save it as UTF-8)`,
		"utf-16":                 `:1:4: expected text in UTF-8, found a NUL byte (a binary file, or UTF-16: save it as UTF-8)`,
		"latin-1":                `:1:27: expected text in UTF-8, found the byte 0xb0 (another encoding: save it as UTF-8)`,
		"open-quote":             `:2:5: expected the quote that opens here to be closed, found the end of the file`,
		"bare-quote":             `:1:15: expected a cell that holds a quote to be quoted, and the quote doubled (""), found "fan 5\" [rpm]`,
		"after-quote":            `:1:15: expected a comma after the closing quote, found "x [rpm]"`,
		"semicolons-ragged":      `:3:5: expected 2 cells, as in the header, found 3`,
		"bits-fraction":          `:3:3: expected a reason mask, a whole number from 0 to 2^53, found "4.5"`,
		"text-after-numbers":     `:3:3: expected a number as in the rows above (a column of text says [text] in the header), found "two"`,
		"setup-no-value":         `:1:10: expected key = value, found "cooler"`,
		"mark-no-time":           `:1:9: expected a mark's time in seconds, found "panel"`,
		"start-no-time":          `:1:10: expected a time in RFC 3339, 2026-03-01T20:15:00Z for instance, found "yesterday"`,
		"bit-no-mask":            `:1:8: expected a bit as: channel = 0x4 power-long name, found "four power-long"`,
		"huge-cell":              `:2:3: expected a cell of at most 64 KiB, found one of 70000 bytes`,
	}
	files, err := filepath.Glob(filepath.Join(badFolder, "*.csv"))
	if err != nil || len(files) != len(want) {
		t.Errorf("%d bad files, %d expected errors", len(files), len(want))
	}
	for _, file := range files {
		name := filepath.Base(file)
		t.Run(name, func(t *testing.T) {
			f, err := os.Open(file)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			_, err = Read(f, Options{})
			var place *Error
			if !errors.As(err, &place) {
				t.Fatalf("error %v is no *Error", err)
			}
			expected := want[strings.TrimSuffix(name, ".csv")]
			if expected == "" || !strings.HasPrefix(err.Error(), name+expected) {
				t.Errorf("\n got %s\nwant %s%s", err, name, expected)
			}
		})
	}
}

// TestHugeRecord: a row without end is refused before it fills the memory.
func TestHugeRecord(t *testing.T) {
	endless := strings.NewReader("time [s],x [W]\n0,\"" + strings.Repeat("1\n", maxRecord))
	_, err := Read(endless, Options{})
	if err == nil || !strings.Contains(err.Error(), "trace:2:1: expected a row of at most 1 MiB") {
		t.Errorf("error is %v", err)
	}
	if endless.Len() < maxRecord/2 {
		t.Errorf("read on to %d bytes before the end", endless.Len())
	}
}
