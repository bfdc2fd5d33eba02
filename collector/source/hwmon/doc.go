// Package hwmon owns the kernel's hardware monitoring class and its thermal zones:
// temperatures, fans, voltages, currents, power, energy, humidity and fan duty, found by
// listing /sys/class/hwmon and /sys/class/thermal (kernel:
// Documentation/hwmon/sysfs-interface.rst, Documentation/driver-api/thermal/sysfs-api.rst).
//
// A chip's key is the device it sits on, never the hwmonN that the kernel hands out in
// probe order. A zone and an hwmon made from each other are shown once. A device that
// sleeps is left asleep. Only drivers known to answer at once are read on the fast tick;
// all others get a Slow group with a pace that spares their bus, firmware or disk.
//
// It knows no other source and writes nothing.
package hwmon
