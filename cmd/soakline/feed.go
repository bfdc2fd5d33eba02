package main

import (
	"context"
	"fmt"
	"io"
	"time"

	lines "soakline/collector/source/feed"
	"soakline/collector/telemetry"
	"soakline/collector/tracefile"
	"soakline/server"
	"soakline/server/wire"
)

// feedFlags name instruments that the machine under test lacks.
type feedFlags struct {
	Feed []string `help:"Also read instruments that write lines: ${ways}. 'soakline feed check' shows what arrives." placeholder:"WAY" sep:"none"`
}

// begin starts to take the feeds. end stops them, and waits for what they started.
func (f feedFlags) begin(ctx context.Context, e *env) (feeds []*lines.Source, end func(), err error) {
	ctx, cancel := context.WithCancel(ctx)
	end = func() {
		cancel()
		limit := time.After(3 * time.Second)
		for _, s := range feeds {
			select {
			case <-s.Done():
			case <-limit:
				return
			}
		}
	}
	for i, spec := range f.Feed {
		s, err := beginFeed(ctx, e, spec, i)
		if err != nil {
			end()
			return nil, nil, err
		}
		feeds = append(feeds, s)
	}
	return feeds, end, nil
}

// beginFeed starts to take feed number i, counting from 0.
func beginFeed(ctx context.Context, e *env, spec string, i int) (*lines.Source, error) {
	name := "feed"
	if i > 0 {
		name = fmt.Sprintf("feed %d", i+1)
	}
	s, err := lines.New(ctx, spec, lines.Config{Name: name, Guess: tracefile.GuessRole, Log: e.log})
	if err != nil {
		return nil, usage(err)
	}
	return s, nil
}

// with gives the feed these instruments beside its sources.
func (f feed) with(feeds []*lines.Source) feed {
	f.feeds = feeds
	for _, s := range feeds {
		f.sources = append(f.sources, telemetry.Source(s))
	}
	return f
}

// pushTo takes pushed lines into the feed that was asked for; nil where there is none.
func pushTo(feeds []*lines.Source) server.FeedPush {
	for _, s := range feeds {
		if s.Pushed() {
			return func(in io.Reader) (int, []wire.FeedRefused, error) {
				taken, refused, err := s.Push(in)
				var out []wire.FeedRefused
				for _, r := range refused {
					out = append(out, wire.FeedRefused(r))
				}
				return taken, out, err
			}
		}
	}
	return nil
}

// sayPush tells how to push.
func sayPush(out io.Writer, feeds []*lines.Source, address fmt.Stringer, token string) {
	if pushTo(feeds) != nil {
		fmt.Fprintf(out, "push lines with: curl -H 'X-Soakline-Token: %s' --data-binary @- http://%s/api/feed\n", token, address)
	}
}
