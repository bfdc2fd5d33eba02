package kerneltest

import "errors"

// The chips' addresses.
const (
	lm75, tmp102, lm85, ltc4215, sbs, jc42 = 0x48, 0x49, 0x2e, 0x58, 0x0b, 0x18
)

const chipAddresses = "chip_addr=0x48,0x49,0x2e,0x58,0x0b,0x18"

// Registers by the makers' data sheets as the drivers read them (kernel: drivers/hwmon,
// drivers/power/supply/sbs-battery.c). What they stand for is in the test's table.
var steady = []struct {
	chip, register uint8
	size           string
	value          uint16
}{
	{lm75, 0, "swapped", 42 << 8}, // 42 °C in 1/256 K
	{lm75, 3, "swapped", 80 << 8}, {lm75, 2, "swapped", 75 << 8},
	{tmp102, 0, "swapped", 40 << 7}, // 40 °C in 1/128 K, extended mode
	{tmp102, 1, "swapped", 0x60A0},
	{jc42, 5, "swapped", 38<<4 | 8}, // 38.5 °C in 1/16 K
	{lm85, 0x3e, "byte", 0x01}, {lm85, 0x3f, "byte", 0x62}, {lm85, 0x40, "byte", 0x05},
	{lm85, 0x24, "byte", 0xc0}, // 12 V at three quarters of the scale
	{lm85, 0x25, "byte", 55}, {lm85, 0x26, "byte", 48},
	{lm85, 0x27, "byte", 0x80},                             // a diode that is not plugged in
	{lm85, 0x28, "byte", 0x70}, {lm85, 0x29, "byte", 0x17}, // 5400000/0x1770 = 900 rpm
	{lm85, 0x2a, "byte", 0x60}, {lm85, 0x2b, "byte", 0x07}, // 5400000/0x0760 = 2860 rpm
	{lm85, 0x2c, "byte", 0xff}, {lm85, 0x2d, "byte", 0xff}, // stands still
	{lm85, 0x30, "byte", 128}, {lm85, 0x5c, "byte", 0xe2},
	{ltc4215, 4, "byte", 100}, {ltc4215, 5, "byte", 150}, {ltc4215, 6, "byte", 158},
	{sbs, 0x08, "word", 3032}, {sbs, 0x09, "word", 11400}, {sbs, 0x0a, "word", 0x10000 - 2100}, {sbs, 0x0d, "word", 87},
	{sbs, 0x16, "word", 0x00c0}, // initialised, discharging
}

// fill puts the registers in before the drivers come.
func (b *smbus) fill() error {
	var errs []error
	for _, r := range steady {
		switch r.size {
		case "byte":
			errs = append(errs, b.byteAt(r.chip, r.register, uint8(r.value)))
		case "word":
			errs = append(errs, b.wordAt(r.chip, r.register, r.value))
		default:
			errs = append(errs, b.swappedAt(r.chip, r.register, r.value))
		}
	}
	return errors.Join(errs...)
}

// drivers adds all chips but the one whose first conversion is looked at.
func (b *smbus) drivers() error {
	return errors.Join(b.add("lm75", lm75), b.add("lm85c", lm85), b.add("ltc4215", ltc4215), b.add("jc42", jc42), b.add("sbs-battery", sbs))
}

// move changes what some of the chips measure.
func (b *smbus) move(kelvin int) error {
	return errors.Join(b.swappedAt(lm75, 0, uint16(42+kelvin)<<8), b.swappedAt(tmp102, 0, uint16(40+kelvin)<<7),
		b.swappedAt(jc42, 5, uint16(38+kelvin)<<4|8), b.byteAt(lm85, 0x25, uint8(55+kelvin)), b.byteAt(ltc4215, 4, uint8(100+kelvin)),
		b.wordAt(sbs, 0x0a, uint16(0x10000-2100-100*kelvin)))
}
