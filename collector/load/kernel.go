package load

import "soakline/collector/load/spec"

// kernel does units of known work.
type kernel interface {
	// run does one unit and says whether its result was right. After a wrong one it
	// begins afresh.
	run() bool
}

var kernels = map[spec.Kind]func() kernel{
	spec.Integer:  func() kernel { return integer{} },
	spec.Floating: func() kernel { return newMatrix() },
	spec.Vector:   func() kernel { return newVector() },
	spec.Memory:   func() kernel { return newTriad() },
}
