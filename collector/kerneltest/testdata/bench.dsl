// Firmware of a machine on a bench: a thermal zone, a power meter, a battery, mains and
// the processor's performance states. Values follow the firmware's own timer (100 ns
// steps), so that they move without anybody's help.
// ACPI specification 6.5: 10.2 batteries, 10.3 mains, 10.4 power meters, 11.4 thermal
// zones, 8.4.5 performance states.
DefinitionBlock ("bench.aml", "SSDT", 2, "BENCH ", "SENSORS ", 1)
{
    External (\_SB, DeviceObj)
    External (\_SB.CPUS, DeviceObj)
    External (\_SB.CPUS.C000, DeviceObj)

    Scope (\_SB)
    {
        // Tenths of a second since the start, modulo 8 s.
        Method (TICK, 0, Serialized)
        {
            Divide (Timer, 1000000, , Local0)
            Divide (Local0, 80, Local1, )
            Return (Local1)
        }
        // 44 W for 3 s, 15 W for 5 s, in mW, with a ripple of 20 mW a second.
        Method (DRAW, 0, Serialized)
        {
            Local0 = TICK ()
            If (Local0 < 30)
            {
                Return (44000 + Local0)
            }
            Return (15000 + Local0)
        }
        Device (PMTR)
        {
            Name (_HID, "ACPI000D")
            Method (_STA, 0) { Return (0x0F) }
            Method (_PMC, 0, Serialized)
            {
                // flags: measures; mW; input; accuracy 99.00 %; sampling 100 ms; averaging
                // 1 s to 1 s; no hysteresis, no limits; model, serial, maker
                Return (Package () { 1, 0, 0, 99000, 100, 1000, 1000, 0xFFFFFFFF, 0, 0, 0xFFFFFFFF, "bench", "1", "bench" })
            }
            Method (_PMM, 0) { Return (DRAW ()) }
            Method (_GAI, 0) { Return (1000) }
            Method (_PAI, 1) { Return (0) }
            Method (_PMD, 0, Serialized) { Return (Package () { \_SB }) }
        }
        Device (BAT0)
        {
            Name (_HID, EisaId ("PNP0C0A"))
            Name (_UID, 0)
            Name (_PCL, Package () { \_SB })
            Method (_STA, 0) { Return (0x1F) }
            Name (INFO, Package () { 1, 0, 57000, 55000, 1, 15400, 5500, 1650, 100, 95000, 1000, 1000, 1000, 1000, 100, 100, "bench", "1", "LION", "bench", 0 })
            Method (_BIX, 0, Serialized) { Return (INFO) }
            Name (BSTP, Package () { 1, 0, 48000, 15400 })
            Method (_BST, 0, Serialized)
            {
                BSTP [1] = DRAW ()
                Return (BSTP)
            }
        }
        Device (AC0)
        {
            Name (_HID, "ACPI0003")
            Name (_PCL, Package () { \_SB })
            Method (_STA, 0) { Return (0x0F) }
            Method (_PSR, 0) { Return (1) }
        }
    }
    ThermalZone (\TZ0)
    {
        Method (_TMP, 0) { Return (3382 + \_SB.TICK ()) } // tenths of a kelvin: 65 to 73 degrees
        Method (_CRT, 0) { Return (3782) }                // 105 degrees
        Method (_HOT, 0) { Return (3732) }                // 100 degrees
        Name (_TZP, 10)
    }
    Scope (\_SB.CPUS.C000)
    {
        // The parallel port's data register keeps what is written to it: it serves as
        // control and status of the clock.
        Name (_PCT, Package ()
        {
            ResourceTemplate () { Register (SystemIO, 8, 0, 0x378) },
            ResourceTemplate () { Register (SystemIO, 8, 0, 0x378) }
        })
        Name (_PSS, Package ()
        {
            Package () { 2601, 15000, 10, 10, 0x1A, 0x1A },
            Package () { 1800, 9000, 10, 10, 0x12, 0x12 },
            Package () { 800, 4000, 10, 10, 0x08, 0x08 }
        })
        Method (_PPC, 0) { Return (0) }
    }
}
