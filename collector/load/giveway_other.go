//go:build !unix

package load

// giveWay does nothing here.
func giveWay() {}
