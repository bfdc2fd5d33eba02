package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"soakline/collector/archive"
)

type sessionsKeepCmd struct {
	Age  string `help:"Remove sessions older than this, for instance 90d or 12h; 0 takes the rule back." placeholder:"AGE"`
	Size string `help:"Remove the oldest until the rest takes no more than this, for instance 2GB; 0 takes the rule back." placeholder:"SIZE"`
}

// Help is shown by 'soakline sessions keep --help'.
func (sessionsKeepCmd) Help() string {
	return `Pinned sessions, those being recorded and the newest are never removed. What goes is
removed after the next recording, or by 'soakline sessions tidy'.

Example:
  soakline sessions keep
  soakline sessions keep --age 90d --size 2GB
  soakline sessions keep --age 0 --size 0`
}

// Run shows or sets what is kept, and what that will remove.
func (s *sessionsKeepCmd) Run(ctx context.Context, e *env, c *cli) error {
	return c.with(e, func(store *archive.Store) error {
		k, err := store.Kept(ctx)
		if err != nil {
			return err
		}
		if s.Age != "" {
			if k.Age, err = parseAge(s.Age); err != nil {
				return usage(err)
			}
		}
		if s.Size != "" {
			if k.Bytes, err = parseSize(s.Size); err != nil {
				return usage(err)
			}
		}
		if s.Age != "" || s.Size != "" {
			if err := store.Keep(ctx, k); err != nil {
				return err
			}
		}
		fmt.Fprintln(e.out, keepingWords(k))
		gone, err := store.Expired(ctx, k)
		if err == nil && len(gone) > 0 {
			fmt.Fprintf(e.out, "the next recording, or 'soakline sessions tidy', removes %d: %s\n", len(gone), strings.Join(gone, " "))
		}
		return err
	})
}

func keepingWords(k archive.Keeping) string {
	var rules []string
	if k.Age > 0 {
		rules = append(rules, fmt.Sprintf("sessions older than %g days are removed", k.Age.Hours()/24))
	}
	if k.Bytes > 0 {
		rules = append(rules, "the oldest are removed until the rest takes no more than "+bytesWords(k.Bytes))
	}
	if rules == nil {
		return "everything is kept"
	}
	return strings.Join(rules, "; ") + "; never one that is pinned"
}

type sessionsTidyCmd struct{}

// Run removes for good what is deleted or no longer kept.
func (s *sessionsTidyCmd) Run(ctx context.Context, e *env, c *cli) error {
	return c.with(e, func(store *archive.Store) error {
		k, err := store.Kept(ctx)
		if err != nil {
			return err
		}
		n, err := store.Purge(ctx)
		if err != nil {
			return err
		}
		gone, err := store.Expired(ctx, k)
		if err == nil {
			err = store.Tidy(ctx)
		}
		if err == nil {
			fmt.Fprintf(e.out, "%d deleted sessions and %d that are no longer kept removed for good\n", n, len(gone))
		}
		return err
	})
}

// parseAge reads a duration that may be in days.
func parseAge(text string) (time.Duration, error) {
	if days, ok := strings.CutSuffix(text, "d"); ok {
		n, err := strconv.ParseFloat(days, 64)
		if err == nil && n >= 0 && n < 1e5 {
			return time.Duration(n * 24 * float64(time.Hour)), nil
		}
	} else if text == "0" {
		return 0, nil
	} else if d, err := time.ParseDuration(text); err == nil && d >= 0 {
		return d, nil
	}
	return 0, fmt.Errorf("--age %q: expected a time such as 90d or 12h, or 0", text)
}

var sizeUnits = []struct {
	unit  string
	bytes float64
}{{"KiB", 1 << 10}, {"MiB", 1 << 20}, {"GiB", 1 << 30}, {"kB", 1e3}, {"MB", 1e6}, {"GB", 1e9}, {"TB", 1e12}, {"B", 1}}

// parseSize reads a number of bytes with its unit.
func parseSize(text string) (int64, error) {
	if text == "0" {
		return 0, nil
	}
	for _, u := range sizeUnits {
		if number, ok := strings.CutSuffix(text, u.unit); ok {
			n, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
			if err == nil && n >= 0 && n*u.bytes < 1<<60 {
				return int64(n * u.bytes), nil
			}
			break
		}
	}
	return 0, fmt.Errorf("--size %q: expected a size such as 500MB or 2GB, or 0", text)
}

func bytesWords(n int64) string {
	for _, u := range []struct {
		unit  string
		bytes float64
	}{{"GB", 1e9}, {"MB", 1e6}, {"kB", 1e3}} {
		if float64(n) >= u.bytes {
			return strconv.FormatFloat(float64(n)/u.bytes, 'f', 1, 64) + " " + u.unit
		}
	}
	return strconv.FormatInt(n, 10) + " B"
}

// asUsage marks what a user named wrongly as exit status 2.
func asUsage(err error) error {
	for _, theirs := range []error{archive.ErrNotFound, archive.ErrAmbiguous, archive.ErrPinned, archive.ErrRecording} {
		if errors.Is(err, theirs) {
			return usage(err)
		}
	}
	return err
}
