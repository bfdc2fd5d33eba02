//go:build unix

package load

import "syscall"

// behind is the nice value of the workers: on a machine that does nothing else it costs
// them nothing, and whoever watches the machine is not kept waiting.
const behind = 5

// giveWay puts the calling thread behind the other programs (setpriority(2), which on
// Linux sets one thread, elsewhere the process). Where that is refused it works as it is.
func giveWay() { syscall.Setpriority(syscall.PRIO_PROCESS, 0, behind) }
