package libcall

// Library is an open shared library, Func a function of one, both as addresses in the
// child.
type (
	Library uint64
	Func    uint64
)

// Memory is a piece of the child's memory: At is its address there, for an argument;
// Data is what is in it, before a Run and after it.
type Memory struct {
	At   uint64
	Data []byte
}
