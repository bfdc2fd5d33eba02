//go:build linux && (amd64 || arm64)

package libcall

import (
	"bytes"
	"debug/elf"
	"encoding/binary"
	"fmt"
	"unsafe"
)

// Where things lie in the child. The block's address stands in the assembly too. Pages
// may be 64 KiB on arm64, so that the two segments are that far apart in the file.
const (
	textAddress  = 0x400000
	blockAddress = 0x500000
	blockOffset  = 0x10000
	blockSize    = 4096 // PIPE_BUF: a pipe takes and gives that much in one piece (pipe(7))
	pageAlign    = 0x10000
)

// Words of the block, in bytes from its start. The child sends the block once before
// the first request, with the loader's functions filled in.
const (
	atCount  = 0
	atDlopen = 8
	atDlsym  = 16
	atCalls  = 64
	callSize = 64 // function, six arguments, result
	maxCalls = 24
	atData   = atCalls + maxCalls*callSize
)

// stub is the child's code; stubRange says where it lies in this process.
func stub()
func stubEnd()
func stubRange() (start, end uintptr)

// Nothing here calls them; they are named so that they are part of the program.
var _ = [...]func(){stub, stubEnd}

// code copies the child's machine code out of this program's own text.
func code() ([]byte, error) {
	start, end := stubRange()
	if end <= start || end-start > 1024 {
		return nil, fmt.Errorf("the helper's code was not laid out in one piece (%d bytes)", int64(end)-int64(start))
	}
	// The address of a function is no Go pointer; the memory behind it never moves.
	return bytes.Clone(unsafe.Slice(*(**byte)(unsafe.Pointer(&start)), end-start)), nil
}

// image builds the child's file: the smallest ELF program that the system's loader takes
// (System V ABI, chapters 4 and 5), with dlopen and dlsym to be filled in by it.
func image() ([]byte, error) {
	program, err := code()
	if err != nil {
		return nil, err
	}
	const headers = 64 + 5*56 // file header and five program headers
	names := []byte("\x00libc.so.6\x00libdl.so.2\x00dlopen\x00dlsym\x00")
	var text bytes.Buffer
	text.Write(make([]byte, headers))
	interpreter := place(&text, []byte(loader+"\x00"))
	strings := place(&text, names)
	symbols := place(&text, words(elf.Sym64{}, imported(names, "dlopen"), imported(names, "dlsym")))
	relocations := place(&text, words(relocation(atDlopen, 1), relocation(atDlsym, 2)))
	entry := place(&text, program)

	dynamic := words(
		elf.Dyn64{Tag: int64(elf.DT_NEEDED), Val: nameAt(names, "libc.so.6")},
		elf.Dyn64{Tag: int64(elf.DT_NEEDED), Val: nameAt(names, "libdl.so.2")}, // dlopen lived there before glibc 2.34
		elf.Dyn64{Tag: int64(elf.DT_STRTAB), Val: textAddress + strings}, elf.Dyn64{Tag: int64(elf.DT_STRSZ), Val: uint64(len(names))},
		elf.Dyn64{Tag: int64(elf.DT_SYMTAB), Val: textAddress + symbols}, elf.Dyn64{Tag: int64(elf.DT_SYMENT), Val: elf.Sym64Size},
		elf.Dyn64{Tag: int64(elf.DT_RELA), Val: textAddress + relocations}, elf.Dyn64{Tag: int64(elf.DT_RELASZ), Val: 2 * 24},
		elf.Dyn64{Tag: int64(elf.DT_RELAENT), Val: 24}, elf.Dyn64{})
	writable := uint64(blockSize + len(dynamic))

	file := make([]byte, blockOffset+writable)
	copy(file, text.Bytes())
	copy(file[blockOffset+blockSize:], dynamic)
	header := elf.Header64{Type: uint16(elf.ET_EXEC), Machine: uint16(machine), Version: 1, Entry: textAddress + entry,
		Phoff: 64, Ehsize: 64, Phentsize: 56, Phnum: 5}
	copy(header.Ident[:], "\x7fELF\x02\x01\x01")
	copy(file, words(header,
		segment(elf.PT_INTERP, elf.PF_R, interpreter, textAddress+interpreter, uint64(len(loader)+1), 1),
		segment(elf.PT_LOAD, elf.PF_R|elf.PF_X, 0, textAddress, uint64(text.Len()), pageAlign),
		segment(elf.PT_LOAD, elf.PF_R|elf.PF_W, blockOffset, blockAddress, writable, pageAlign),
		segment(elf.PT_DYNAMIC, elf.PF_R|elf.PF_W, blockOffset+blockSize, blockAddress+blockSize, uint64(len(dynamic)), 8),
		segment(elf.PT_GNU_STACK, elf.PF_R|elf.PF_W, 0, 0, 0, 16)))
	return file, nil
}

// place appends b at the next multiple of 16 and gives its offset.
func place(text *bytes.Buffer, b []byte) uint64 {
	text.Write(make([]byte, (16-text.Len()%16)%16))
	at := uint64(text.Len())
	text.Write(b)
	return at
}

// words lays structures out one after the other, little endian.
func words(all ...any) []byte {
	var b bytes.Buffer
	for _, v := range all {
		if err := binary.Write(&b, binary.LittleEndian, v); err != nil {
			panic(err) // only fixed-size structures are given
		}
	}
	return b.Bytes()
}

func nameAt(names []byte, name string) uint64 {
	return uint64(bytes.Index(names, []byte("\x00"+name+"\x00")) + 1)
}

// imported is a function that the loader looks up elsewhere.
func imported(names []byte, name string) elf.Sym64 {
	return elf.Sym64{Name: uint32(nameAt(names, name)), Info: byte(elf.STB_GLOBAL)<<4 | byte(elf.STT_FUNC)}
}

// relocation asks the loader to store a symbol's address in a word of the block.
func relocation(at uint64, symbol uint32) elf.Rela64 {
	return elf.Rela64{Off: blockAddress + at, Info: uint64(symbol)<<32 | uint64(absolute)}
}

func segment(kind elf.ProgType, flags elf.ProgFlag, offset, address, size, align uint64) elf.Prog64 {
	return elf.Prog64{Type: uint32(kind), Flags: uint32(flags), Off: offset, Vaddr: address, Paddr: address,
		Filesz: size, Memsz: size, Align: align}
}
