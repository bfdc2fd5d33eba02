package powercut

import (
	"encoding/binary"
	"fmt"
	"io"
	"maps"
	"math/rand/v2"
	"net"
	"slices"
	"sync"
)

const sector = 512

// superblock is the first of the two sectors that ext4 needs to be written whole: its
// checksum is looked at before the journal is replayed (Documentation/filesystems/ext4,
// super.rst). A tear there says nothing of the archive.
const superblock = 1024 / sector

// disk is a drive with a volatile cache, served over the network block device protocol
// (github.com/NetworkBlockDevice/nbd, doc/proto.md, newstyle negotiation, simple replies).
type disk struct {
	mu      sync.Mutex
	durable []byte                   // what outlives a cut
	now     []byte                   // what a read sees
	pending map[uint64]*[sector]byte // written and not flushed, by sector
	flushes int
	take    func() // cuts the power; nil where nobody asked
	writes  int    // before it does
}

func newDisk(image []byte) *disk {
	return &disk{durable: image, now: append([]byte(nil), image...), pending: map[uint64]*[sector]byte{}}
}

// cut is what a power cut leaves.
type cut struct {
	image   []byte
	atStake int // sectors written and not flushed
	now     told
}

// cutAfter cuts the power after so many more writes, or before the flush that comes
// earlier, and asks by then what the guest has told. The disk itself goes on.
func (d *disk) cutAfter(writes int, lot *rand.Rand, now func() told) <-chan cut {
	d.mu.Lock()
	defer d.mu.Unlock()
	out := make(chan cut, 1)
	d.writes = writes
	d.take = func() {
		c := cut{append([]byte(nil), d.durable...), len(d.pending), now()}
		super := lot.IntN(2) == 0
		for _, s := range slices.Sorted(maps.Keys(d.pending)) {
			survives := lot.IntN(2) == 0
			if s == superblock || s == superblock+1 {
				survives = super
			}
			if survives {
				copy(c.image[s*sector:], d.pending[s][:])
			}
		}
		d.take = nil
		out <- c
	}
	return out
}

func (d *disk) write(off uint64, data []byte, through bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	copy(d.now[off:], data)
	if through { // forced unit access
		copy(d.durable[off:], data)
	}
	for at := off; at < off+uint64(len(data)); at += sector {
		if through {
			delete(d.pending, at/sector)
			continue
		}
		p := new([sector]byte)
		copy(p[:], d.now[at:])
		d.pending[at/sector] = p
	}
	if d.writes--; d.take != nil && d.writes <= 0 && len(d.pending) > 0 {
		d.take()
	}
}

func (d *disk) flush() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.flushes++
	if d.take != nil && len(d.pending) > 0 {
		d.take()
	}
	for s, data := range d.pending {
		copy(d.durable[s*sector:], data[:])
	}
	clear(d.pending)
}

func (d *disk) read(off uint64, into []byte) {
	d.mu.Lock()
	defer d.mu.Unlock()
	copy(into, d.now[off:])
}

// serve answers connections until the listener is closed.
func (d *disk) serve(ln net.Listener) {
	for {
		c, err := ln.Accept()
		if err != nil {
			return
		}
		go func() {
			defer c.Close()
			if d.negotiate(c) == nil {
				d.transmit(c)
			}
		}()
	}
}

// The protocol's numbers; all integers are big endian.
const (
	optionMagic  = "NBDMAGICIHAVEOPT"
	optionReply  = 0x3e889045565a9
	requestMagic = 0x25609513
	replyMagic   = 0x67446698
	replyAck     = 1
	replyInfo    = 3
	replyUnknown = 0x80000001
	hasFlags     = 1 | 4 | 8 // flags are sent; flush and forced unit access are known
)

func (d *disk) negotiate(c net.Conn) error {
	c.Write(append([]byte(optionMagic), 0, 3)) // fixed newstyle, no zeroes
	if err := binary.Read(c, binary.BigEndian, new(uint32)); err != nil {
		return err
	}
	for {
		var o struct {
			Magic       uint64
			Option, Len uint32
		}
		if err := binary.Read(c, binary.BigEndian, &o); err != nil || o.Len > 1<<16 {
			return fmt.Errorf("option: %w", err)
		}
		if _, err := io.CopyN(io.Discard, c, int64(o.Len)); err != nil {
			return err
		}
		if o.Option != 6 && o.Option != 7 { // INFO, GO
			binary.Write(c, binary.BigEndian, uint64(optionReply))
			binary.Write(c, binary.BigEndian, []uint32{o.Option, replyUnknown, 0})
			continue
		}
		binary.Write(c, binary.BigEndian, uint64(optionReply))
		binary.Write(c, binary.BigEndian, []uint32{o.Option, replyInfo, 12})
		binary.Write(c, binary.BigEndian, uint16(0))
		binary.Write(c, binary.BigEndian, uint64(len(d.now)))
		binary.Write(c, binary.BigEndian, uint16(hasFlags))
		binary.Write(c, binary.BigEndian, uint64(optionReply))
		binary.Write(c, binary.BigEndian, []uint32{o.Option, replyAck, 0})
		if o.Option == 7 {
			return nil
		}
	}
}

func (d *disk) transmit(c net.Conn) {
	for {
		var r struct {
			Magic       uint32
			Flags, Type uint16
			Handle, Off uint64
			Len         uint32
		}
		if binary.Read(c, binary.BigEndian, &r) != nil || r.Magic != requestMagic || r.Off+uint64(r.Len) > uint64(len(d.now)) || r.Type == 2 {
			return
		}
		var data []byte
		switch r.Type {
		case 0:
			data = make([]byte, r.Len)
			d.read(r.Off, data)
		case 1:
			in := make([]byte, r.Len)
			if _, err := io.ReadFull(c, in); err != nil {
				return
			}
			d.write(r.Off, in, r.Flags&1 != 0)
		case 3:
			d.flush()
		}
		head := binary.BigEndian.AppendUint32(nil, replyMagic)
		head = binary.BigEndian.AppendUint32(head, 0)
		head = binary.BigEndian.AppendUint64(head, r.Handle)
		if _, err := c.Write(append(head, data...)); err != nil {
			return
		}
	}
}
