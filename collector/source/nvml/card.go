package nvml

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"time"

	"soakline/collector/source/nvml/libcall"
)

// answer is what one question got.
type answer struct {
	value float64
	code  code
}

// answers are those to all questions.
type answers [numQuestions]answer

// asked marks questions.
type asked [numQuestions]bool

// everything marks all.
func everything() *asked {
	var a asked
	for i := range a {
		a[i] = true
	}
	return &a
}

// card is an open card.
type card interface {
	name() string
	// read asks the questions that ask marks and leaves the others' answers as they are.
	// After an error the card is only good to be closed.
	read(a *answers, ask *asked) error
	close() error
}

const (
	libraryName = "libnvidia-ml.so.1"
	initLimit   = 20 * time.Second // the driver may have to start the card
	readLimit   = 2 * time.Second
	fieldSize   = 40 // nvmlFieldValue_t
)

// libraryCard is a card behind the vendor's library in a process of its own.
type libraryCard struct {
	process *libcall.Process
	device  uint64 // nvmlDevice_t
	fields  libcall.Func
	calls   [numQuestions]libcall.Func // 0: a field, or not in this library
	title   string
	pending [numQuestions]pending
}

// pending says where an answer will be found.
type pending struct {
	call   int
	memory libcall.Memory
}

// openCard opens the library and the card at a PCI address, and no other card: since
// version 5 it initialises only the one whose handle is asked for (nvml.h,
// nvmlDeviceGetHandleByPciBusId_v2).
func openCard(pci string) (card, error) {
	p, err := libcall.Start()
	if err != nil {
		return nil, err
	}
	c := &libraryCard{process: p}
	if err := c.open(pci); err != nil {
		p.Close()
		return nil, err
	}
	return c, nil
}

func (c *libraryCard) open(pci string) error {
	lib, err := c.process.Open(libraryName)
	if err != nil {
		return err
	}
	find := func(name string) libcall.Func {
		f, e := c.process.Symbol(lib, name)
		err = errors.Join(err, e)
		return f
	}
	start, handle, title := find("nvmlInit_v2"), find("nvmlDeviceGetHandleByPciBusId_v2"), find("nvmlDeviceGetName")
	c.fields = find("nvmlDeviceGetFieldValues")
	for i, q := range questions {
		for _, f := range q.functions {
			if c.calls[i] == 0 {
				c.calls[i] = find(f)
			}
		}
	}
	if err != nil {
		return err
	}
	if start == 0 || handle == 0 || title == 0 {
		return fmt.Errorf("%s lacks a function that every version since 5 has; is it the vendor's own?", libraryName)
	}
	return c.start(start, handle, title, pci)
}

// start initialises library and card and asks for the card's name.
func (c *libraryCard) start(start, handle, title libcall.Func, pci string) error {
	p := c.process
	p.Reset()
	address, device := p.String(pci), p.Bytes(8)
	p.Call(start)
	p.Call(handle, address.At, device.At)
	if err := p.Run(initLimit); err != nil {
		return fmt.Errorf("%s: %w", libraryName, err)
	}
	for n := range 2 {
		if r := code(p.Result(n)); r != success {
			return fmt.Errorf("%s: %v", libraryName, r)
		}
	}
	c.device = binary.LittleEndian.Uint64(device.Data)
	p.Reset()
	text := p.Bytes(96) // NVML_DEVICE_NAME_V2_BUFFER_SIZE
	p.Call(title, c.device, text.At, 96)
	if err := p.Run(readLimit); err != nil {
		return fmt.Errorf("%s: %w", libraryName, err)
	}
	c.title = string(text.Data[:max(0, bytes.IndexByte(text.Data, 0))])
	return nil
}

func (c *libraryCard) name() string { return c.title }

func (c *libraryCard) close() error { return c.process.Close() }

// read implements card. It allocates nothing.
func (c *libraryCard) read(a *answers, ask *asked) error {
	p := c.process
	p.Reset()
	count := 0
	for i := range questions {
		if questions[i].field != 0 && ask[i] {
			count++
		}
	}
	fields, fieldsCall := p.Bytes(count*fieldSize), -1
	if c.fields != 0 && count > 0 {
		fieldsCall = p.Call(c.fields, c.device, uint64(count), fields.At)
	}
	next := 0
	for i := range questions {
		switch q := &questions[i]; {
		case !ask[i]:
		case q.field != 0:
			c.pending[i].call = fieldsCall
			c.pending[i].memory.Data = fields.Data[next : next+fieldSize]
			binary.LittleEndian.PutUint32(fields.Data[next:], q.field)
			// A field that this library does not know is left as it was, with a return value
			// of success if that was 0 (seen with a driver of 2025).
			binary.LittleEndian.PutUint32(fields.Data[next+28:], uint32(notFound))
			next += fieldSize
		default:
			c.ask(i, q)
		}
	}
	if err := p.Run(readLimit); err != nil {
		return err
	}
	for i := range questions {
		if ask[i] {
			a[i] = c.answer(i)
		}
	}
	return nil
}

// ask adds one call.
func (c *libraryCard) ask(i int, q *question) {
	c.pending[i].call = -1
	if c.calls[i] == 0 {
		return
	}
	m := c.process.Bytes(q.size)
	c.pending[i].memory = m
	if q.argument >= 0 {
		c.pending[i].call = c.process.Call(c.calls[i], c.device, uint64(q.argument), m.At)
	} else {
		c.pending[i].call = c.process.Call(c.calls[i], c.device, m.At)
	}
}

// answer decodes what came back for question i.
func (c *libraryCard) answer(i int) answer {
	q, w := &questions[i], &c.pending[i]
	if w.call < 0 {
		return answer{math.NaN(), functionNotFound}
	}
	if r := code(c.process.Result(w.call)); r != success {
		return answer{math.NaN(), r}
	}
	if q.field != 0 {
		return decodeField(w.memory.Data)
	}
	if q.width == 8 {
		return answer{float64(binary.LittleEndian.Uint64(w.memory.Data[q.at:])), success}
	}
	return answer{float64(binary.LittleEndian.Uint32(w.memory.Data[q.at:])), success}
}

// decodeField reads an nvmlFieldValue_t: u32 field, u32 scope, i64 time in µs, i64 latency
// in µs, u32 type, u32 return, 8 bytes of value.
func decodeField(b []byte) answer {
	le := binary.LittleEndian
	if r := code(le.Uint32(b[28:])); r != success {
		return answer{math.NaN(), r}
	}
	raw := le.Uint64(b[32:])
	switch le.Uint32(b[24:]) { // nvmlValueType_t
	case 0:
		return answer{math.Float64frombits(raw), success}
	case 1:
		return answer{float64(uint32(raw)), success}
	case 2, 3:
		return answer{float64(raw), success}
	case 4:
		return answer{float64(int64(raw)), success}
	case 5:
		return answer{float64(int32(raw)), success}
	case 6:
		return answer{float64(uint16(raw)), success}
	}
	return answer{math.NaN(), 25} // a type of a newer version
}

// timedOut is true for a call that did not come back in time.
func timedOut(err error) bool { return errors.Is(err, os.ErrDeadlineExceeded) }
