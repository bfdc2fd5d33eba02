package archive

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"soakline/collector/telemetry"
)

const childEnv = "SOAKLINE_KILL_TEST_FILE"

// TestRecordingChild is the process that TestKill kills: it records 100 rows a second and
// tells each row and each mark, and the longest time that it was not given a processor.
func TestRecordingChild(t *testing.T) {
	path := os.Getenv(childEnv)
	if path == "" {
		t.Skip("only as the child of TestKill")
	}
	s := open(t, path)
	from := bench("20260301-201500-abc")
	r := s.Record(context.Background(), from)
	start, last, stall := time.Now(), time.Duration(0), time.Duration(0)
	for i := 1; ; i++ {
		time.Sleep(10 * time.Millisecond)
		at := time.Since(start)
		stall, last = max(stall, at-last-10*time.Millisecond), at
		row := telemetry.Row{At: at.Seconds(), Values: []float64{5, 6, 4, 1}, States: []telemetry.State{1, 1, 1, 1}}
		from.Publish(row)
		fmt.Println("row", row.At, stall.Seconds())
		if i%20 == 0 {
			fmt.Println("mark", from.Mark(telemetry.Mark{At: -1, Text: "mark"}).At, stall.Seconds())
		}
		if end, _ := strconv.Atoi(os.Getenv(childEnv + "_ROWS")); i == end {
			from.End("the end")
			fmt.Println("end 0 0")
			<-r.Done()
			return
		}
	}
}

// TestKill kills a recording at random moments. Every session opens whole, with at most
// one second missing, marks included. SOAKLINE_KILLS is how often, 4 if it is not set;
// every fourth is killed about the time when its session is closed and packed.
func TestKill(t *testing.T) {
	kills := 4
	if n, err := strconv.Atoi(os.Getenv("SOAKLINE_KILLS")); err == nil {
		kills = n
	} else if testing.Short() {
		t.Skip("takes two seconds")
	}
	for i := range kills {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "sessions.db")
			child := exec.Command(os.Args[0], "-test.run=^TestRecordingChild$")
			child.Env = append(os.Environ(), childEnv+"="+path)
			wait := 200*time.Millisecond + rand.N(1800*time.Millisecond)
			switch i % 4 {
			case 0:
				wait = 1900 * time.Millisecond // two commits at least
			case 3:
				child.Env = append(child.Env, childEnv+"_ROWS=100")
				wait = time.Minute // until the child says that the session ends
			}
			told := killAfter(t, child, wait)
			checkKilled(t, path, told)
		})
	}
}

// told is what the child said before it died.
type told struct {
	rows, marks []float64
	stall       float64
}

func killAfter(t *testing.T, child *exec.Cmd, wait time.Duration) (said told) {
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		var what string
		var at, stall float64
		if n, _ := fmt.Sscan(lines.Text(), &what, &at, &stall); n < 3 {
			continue
		}
		said.stall = max(said.stall, stall)
		switch what {
		case "row":
			if said.rows = append(said.rows, at); len(said.rows) == 1 {
				time.AfterFunc(wait, func() { child.Process.Kill() })
			}
		case "end":
			time.AfterFunc(rand.N(10*time.Millisecond), func() { child.Process.Kill() })
		case "mark":
			said.marks = append(said.marks, at)
		}
	}
	child.Wait()
	if len(said.rows) == 0 {
		t.Fatal("the child recorded nothing")
	}
	return said
}

func checkKilled(t *testing.T, path string, said told) {
	s := open(t, path)
	integrity(t, s)
	e := only(t, s)
	trace := load(t, s, Last)
	limit := said.rows[len(said.rows)-1] - 1 - said.stall // what may be missing is after it
	last := 0.0
	if n := len(trace.Time); n > 0 {
		last = trace.Time[n-1]
	}
	for i, at := range trace.Time {
		if i < len(said.rows) && at != said.rows[i] {
			t.Fatalf("row %d is of %v s, not %v s", i, at, said.rows[i])
		}
	}
	if last < limit {
		t.Errorf("the last row stored is of %.2f s, the last one told of %.2f s, the child stalled %.2f s", last, said.rows[len(said.rows)-1], said.stall)
	}
	stored := map[float64]bool{}
	for _, m := range trace.Marks {
		stored[m.At] = true
	}
	for _, at := range said.marks {
		if at < limit && !stored[at] {
			t.Errorf("the mark at %.2f s is missing", at)
		}
	}
	switch e.State {
	case StateBroken:
		if m := trace.Marks[len(trace.Marks)-1]; m.Text != BrokenOff || m.At != last {
			t.Errorf("last mark %+v", m)
		}
	case StateClosed:
	default:
		t.Errorf("state %q", e.State)
	}
	t.Logf("%s, %d of %d rows, %.2f s lost", e.State, len(trace.Time), len(said.rows), said.rows[len(said.rows)-1]-last)
}
