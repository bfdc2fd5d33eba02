// Package load owns soakline's own load: kernels of known work with known answers, the
// workers that run them on as many processors as were asked for and for the share of the
// time that was asked for, and the process of its own in which they run.
//
// A process of its own, because a machine with an offset too far crashes what computes on
// it: the recording goes on and says so. [Serve] is that process's side, [Start] the
// recorder's. It ends within 0.1 s when it is told to, when the recorder closes or dies
// (its input ends), and by itself when the recorder shows no sign of life for a second.
//
// It works on as many threads as it was asked for, at a lower priority than the programs
// beside it where the system has one, and keeps to its share of the time.
//
// Every unit of work is verified against an answer worked out in another way than the
// kernel's; a wrong one is named with its processor and time, and the load goes on.
//
// The kernels, each 0.03 to 0.2 ms a unit on a machine of today:
//
//	integer         shifts, exclusive-ors and multiplications in registers: two xorshift
//	                generators (Marsaglia 2003) beside two linear congruential ones (the
//	                multiplier of Knuth, TAOCP 2, 3.3.4, table 1, line 26)
//	floating-point  a dense matrix product in double precision, scalar, from the first
//	                cache (level 3 of the BLAS, Dongarra et al. 1990)
//	vector          y += a x and the inner product in double precision from the first
//	                cache (level 1 of the BLAS, Lawson et al. 1979), by the assembly of
//	                gonum: SSE2, two numbers at a time, on amd64; scalar elsewhere. The Go
//	                compiler itself makes no vector instructions. Wider units stay idle: a
//	                program compiled for them draws more
//	memory          the triad a = b + s c (McCalpin 1995) over three arrays of 8 MiB for
//	                each worker, beyond most last-level caches once all processors run it
//
// It knows nothing of plans, sensors, sessions or screens.
package load
