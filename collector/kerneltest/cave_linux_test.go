package kerneltest

import (
	"bytes"
	"debug/elf"
	"encoding/binary"
	"os"
	"path/filepath"
	"testing"
)

// symbols are the addresses that the guest found in /proc/kallsyms.
type symbols map[string]uint64

// The three functions that wrap the instructions, and the end of the kernel's code.
const (
	readSafe = "native_read_msr_safe"
	readBare = "native_read_msr"
	cpuid    = "native_cpuid"
	codeEnd  = "_etext"
)

// register is an entry of the table that the redirected functions look a number up in.
type register struct {
	Number, _ uint32
	Value     uint64
}

// redirect copies a kernel's ELF image and lets the three functions use a table in the
// unused rest of the last page of code. It gives the copy and where the table lies in the
// guest's memory. Where that rest is too small the test is skipped.
func redirect(t *testing.T, image string, at symbols, table []register) (path string, physical int64) {
	t.Helper()
	data, err := os.ReadFile(image)
	if err != nil {
		t.Fatal(err)
	}
	file, err := elf.NewFile(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	// where a virtual address lies in the file and in memory
	find := func(address uint64) (offset, memory uint64) {
		for _, p := range file.Progs {
			if p.Type == elf.PT_LOAD && address >= p.Vaddr && address < p.Vaddr+p.Filesz {
				return p.Off + address - p.Vaddr, p.Paddr + address - p.Vaddr
			}
		}
		t.Fatalf("address %#x is not in the image", address)
		return 0, 0
	}
	cave := (at[codeEnd] + 15) &^ 15
	room := (cave | 0xfff) + 1 - cave
	offset, memory := find(cave)
	if rest := data[offset : offset+room]; room < 512 || len(bytes.TrimLeft(rest, "\x00")) > 0 {
		t.Skipf("the last page of this kernel's code has no 512 unused bytes (%d)", room)
	}
	code, entries, tableAt := stubs(cave, table)
	if uint64(len(code)) > room {
		t.Skipf("%d bytes do not fit into %d", len(code), room)
	}
	copy(data[offset:], code)
	for name, target := range entries {
		entry, _ := find(at[name])
		data[entry] = 0xe9 // jmp rel32
		binary.LittleEndian.PutUint32(data[entry+1:], uint32(target-(at[name]+5)))
	}
	path = filepath.Join(t.TempDir(), "vmlinux")
	if err := os.WriteFile(path, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return path, int64(memory + tableAt - cave)
}

// stubs assembles what stands in the cave: the three functions, then the table, closed by
// number 0 (encodings: Intel SDM Vol. 2).
func stubs(cave uint64, table []register) (code []byte, entries map[string]uint64, tableAt uint64) {
	entries = map[string]uint64{}
	// The lengths do not depend on where the table is: assemble twice.
	for range 2 {
		code = nil
		for _, f := range []struct {
			name string
			make func(at uint64) []byte
		}{{readSafe, func(at uint64) []byte { return readStub(at, tableAt, true) }}, {readBare, func(at uint64) []byte { return readStub(at, tableAt, false) }},
			{cpuid, func(uint64) []byte { return cpuidStub }}} {
			entries[f.name] = cave + uint64(len(code))
			code = append(code, f.make(cave+uint64(len(code)))...)
		}
		for len(code)%16 != 0 {
			code = append(code, 0xcc)
		}
		tableAt = cave + uint64(len(code))
	}
	var b bytes.Buffer
	binary.Write(&b, binary.LittleEndian, append(table, register{}))
	return append(code, b.Bytes()...), entries, tableAt
}

// readStub looks the number in edi up and gives the value of the table, or that of the
// instruction; the safe function also stores 0 through rsi: no error.
func readStub(at, table uint64, safe bool) []byte {
	var noError []byte
	if safe {
		noError = []byte{0xc7, 0x06, 0, 0, 0, 0} // mov dword [rsi], 0
	}
	n := byte(len(noError))
	code := []byte{0x89, 0xf9, 0x48, 0x8d, 0x15} // mov ecx, edi; lea rdx, [table]
	code = binary.LittleEndian.AppendUint32(code, uint32(table-(at+9)))
	code = append(code,
		0x8b, 0x02, // next: mov eax, [rdx]
		0x85, 0xc0, // test eax, eax
		0x74, 15+n, // jz instruction
		0x39, 0xc8, // cmp eax, ecx
		0x74, 0x06, // je found
		0x48, 0x83, 0xc2, 0x10, // add rdx, 16
		0xeb, 0xf0) // jmp next
	code = append(code, noError...)                                                 // found:
	code = append(code, 0x48, 0x8b, 0x42, 0x08, 0xc3)                               // mov rax, [rdx+8]; ret
	code = append(code, 0x0f, 0x32)                                                 // instruction: rdmsr
	code = append(code, noError...)                                                 //
	return append(code, 0x48, 0xc1, 0xe2, 0x20, 0x89, 0xc0, 0x48, 0x09, 0xd0, 0xc3) // shl rdx, 32; mov eax, eax; or rax, rdx; ret
}

// cpuidStub answers leaf 6 with a digital sensor, a timer that never stops, a package
// sensor and APERF/MPERF, adds ACPI and the thermal monitor to leaf 1, and leaves the rest
// to the instruction (Intel SDM Vol. 2A, CPUID).
var cpuidStub = []byte{
	0x49, 0x89, 0xd0, 0x49, 0x89, 0xc9, 0x53, // mov r8, rdx; mov r9, rcx; push rbx
	0x8b, 0x07, 0x41, 0x8b, 0x08, 0x41, 0x89, 0xc2, // mov eax, [rdi]; mov ecx, [r8]; mov r10d, eax
	0x83, 0xf8, 0x06, 0x74, 0x1a, // cmp eax, 6; je six
	0x0f, 0xa2, 0x41, 0x83, 0xfa, 0x01, 0x75, 0x06, // cpuid; cmp r10d, 1; jne store
	0x81, 0xca, 0x00, 0x00, 0x40, 0x20, // or edx, ACPI | TM
	0x89, 0x07, 0x89, 0x1e, 0x41, 0x89, 0x08, 0x41, 0x89, 0x11, 0x5b, 0xc3, // store: to [rdi] [rsi] [r8] [r9]; pop rbx; ret
	0xb8, 0x45, 0, 0, 0, 0xbb, 2, 0, 0, 0, 0xb9, 1, 0, 0, 0, 0x31, 0xd2, // six: eax, ebx, ecx = 0x45, 2, 1; edx = 0
	0xeb, 0xe1, // jmp store
}
