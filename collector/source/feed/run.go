package feed

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"time"
)

// Pauses between two attempts at contact.
const (
	firstPause = time.Second
	longPause  = 30 * time.Second
)

// run keeps contact until ctx ends.
func (s *Source) run(ctx context.Context) {
	defer close(s.done)
	pause := firstPause
	for ctx.Err() == nil {
		taken, err := s.contact(ctx)
		if ctx.Err() != nil {
			return
		}
		if taken {
			pause = firstPause
		}
		s.cfg.Log.Info("a feed has no contact", "feed", s.way.title, "err", err, "again in", pause)
		s.mu.Lock()
		s.trouble = err.Error()
		s.mu.Unlock()
		select {
		case <-ctx.Done():
			return
		case <-time.After(pause):
		}
		pause = min(2*pause, longPause)
	}
}

// contact takes lines from one connection until it ends; taken says that there were any.
// A sender that connects again begins its numbers anew.
func (s *Source) contact(ctx context.Context) (taken bool, err error) {
	r, err := s.way.dial(ctx)
	if err != nil {
		return false, err
	}
	stop := context.AfterFunc(ctx, func() { r.Close() })
	s.mu.Lock()
	s.renumber()
	s.mu.Unlock()
	taken, err = s.scan(r)
	stop()
	if ended := r.Close(); ended != nil && errors.Is(err, io.EOF) {
		err = ended
	}
	if errors.Is(err, io.EOF) {
		err = errors.New("the sender has ended")
	}
	return taken, err
}

// scan takes lines until r ends. A last line without an end is half a line.
func (s *Source) scan(r io.Reader) (taken bool, err error) {
	in := bufio.NewReaderSize(r, maxLine+2)
	for {
		line, err := in.ReadSlice('\n')
		switch {
		case err == nil:
			taken = s.line(string(line)) == nil || taken
		case errors.Is(err, bufio.ErrBufferFull):
			head := string(line)
			for errors.Is(err, bufio.ErrBufferFull) {
				_, err = in.ReadSlice('\n')
			}
			s.refused(head, errLong)
			if err != nil {
				return taken, err
			}
		default:
			if len(line) > 0 {
				s.refused(string(line), errors.New("the line broke off before its end"))
			}
			return taken, err
		}
	}
}

func (s *Source) refused(text string, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.lines++
	s.refuse(text, err)
}

// Refused is a pushed line that was not taken; Line counts from 1.
type Refused struct {
	Line   int
	Reason string
}

// Push takes pushed lines, at most as many as body has, and says how many were taken (a
// comment counts as taken) and which were not.
func (s *Source) Push(body io.Reader) (taken int, refused []Refused, err error) {
	in := bufio.NewScanner(body)
	in.Buffer(make([]byte, 0, maxLine+2), maxLine+2)
	for n := 1; in.Scan(); n++ {
		if err := s.line(in.Text()); err != nil {
			refused = append(refused, Refused{n, err.Error()})
		} else {
			taken++
		}
	}
	if errors.Is(in.Err(), bufio.ErrTooLong) {
		return taken, refused, errLong
	}
	if in.Err() != nil {
		return taken, refused, fmt.Errorf("the lines broke off: %w", in.Err())
	}
	return taken, refused, nil
}
