#!/usr/bin/env python3
"""Makes the golden tables of this folder: gpu_metrics_vX_Y of the Linux kernel's
drivers/gpu/drm/amd/include/kgd_pp_interface.h, laid out by Python's struct module in
native alignment ("@" format strings typed from the header, field by field), not by the
decoder under test. The values are invented; the fields left at all ones are those that a
unit does not report. Run on a 64-bit little-endian machine."""
import struct, pathlib
here = pathlib.Path(__file__).parent
NO16, NO32, NO64 = 0xffff, 0xffffffff, 0xffffffffffffffff

def table(name, fmt, fmt_rev, content_rev, *values):
    fmt = "@" + fmt
    size = struct.calcsize(fmt + "0Q" if "Q" in fmt else fmt)
    b = struct.pack(fmt, size, fmt_rev, content_rev, *values).ljust(size, b"\0")
    (here / name).write_bytes(b)
    print(name, size)

# gpu_metrics_v1_3: header; 6 temperatures; 3 activities; socket power; energy; clock;
# 7 average and 7 current clocks; throttle; fan; width; speed; padding; 2 accumulators;
# 4 memory stacks; firmware time; 3 voltages; padding1; indep_throttle.
avg, cur = [2100, 1000, 1250, 900, 850, NO16, NO16], [2304, 1001, 1251, 901, 851, NO16, NO16]
head13 = [61, 77, 68, 70, 58, NO16, 97, 40, 0, 231, 123456789, 987654321000]
table("v1_3.bin", "HBB" "6H" "3H" "H" "Q" "Q" "7H" "7H" "I" "H" "H" "H" "H" "I" "I" "4H" "Q" "3H" "H" "Q", 1, 3,
      *head13, *avg, *cur, 0x00000005, 1620, 16, 160, NO16, 1, 2, NO16, NO16, NO16, NO16, 5, 900, 1056, 1350, NO16,
      (1 << 0) | (1 << 36) | (1 << 16))
table("v1_1.bin", "HBB" "6H" "3H" "H" "Q" "Q" "7H" "7H" "I" "H" "H" "H" "H" "I" "I" "4H", 1, 1,
      *head13, *avg, *cur, 0x5, 1620, 16, 160, NO16, 1, 2, NO16, NO16, NO16, NO16)
# gpu_metrics_v1_0 has the clock before the temperatures and a 32-bit energy.
table("v1_0.bin", "HBB" "Q" "6H" "3H" "H" "I" "7H" "7H" "I" "H" "BB", 1, 0,
      987654321000, *head13[:10], 4567, *avg, *cur, 0x5, 1620, 16, 160)

# gpu_metrics_v2_x: header; gfx, soc, 8 core, 2 cache temperatures; 2 activities; clock;
# 4 powers; 8 core powers; 6 average and 6 current clocks; 8 core clocks; 2 cache clocks;
# throttle; fan; padding; [2.2] indep_throttle; [2.3] averages; [2.4] voltages, currents.
temps = [5312, 5190, 6425, 6200, 6100, 6050, NO16, NO16, NO16, NO16, 5600, NO16]
body2 = [14900, 9100, 1200, 4100] + [1500, 1400, 1300, 1200] + [NO16] * 4
clk2 = [1600, 600, 800, 1600, 0, 0] + [1605, 601, 801, 1601, 0, 0] + [3200, 3100, 3000, 2900] + [NO16] * 4 + [2800, NO16]
fmt21 = "HBB" "12H" "2H" "Q" "4H" "8H" "6H" "6H" "8H" "2H" "I" "H" "3H"
base = [*temps, 8800, NO16, 42, *body2, *clk2, 0x80, NO16, NO16, NO16, NO16]
table("v2_1.bin", fmt21, 2, 1, *base)
table("v2_2.bin", fmt21 + "Q", 2, 2, *base, (1 << 4) | (1 << 6) | (1 << 33))
table("v2_3.bin", fmt21 + "Q" "12H", 2, 3, *base, 1 << 5, *temps)
table("v2_4.bin", fmt21 + "Q" "12H" "3H" "3H", 2, 4, *base, 1 << 45, *temps, 1010, 900, 950, 9000, 3000, 8000)
table("v2_0.bin", "HBB" "Q" "12H" "2H" "4H" "8H" "6H" "6H" "8H" "2H" "I" "H" "H", 2, 0,
      42, *temps, 8800, NO16, *body2, *clk2, 0x80, NO16, NO16)

# gpu_metrics_v3_0
table("v3_0.bin", "HBB" "H" "H" "16H" "H" "H" "H" "8H" "16H" "4H" "Q" "I" "H" "I" "I" "I" "I" "16H" "H" "H" "H" "8H" "16H" "H" "H" "7I" "I", 3, 0,
      4725, 4610, *([5500] * 8 + [NO16] * 8), 3890, 93, 0, *[NO16] * 8, *[50] * 16, 1, 2, 3, 4, 99,
      28123, NO16, 27000, 12500, NO32, 11000, *([1300] * 8 + [NO16] * 8), NO16, 54000, 28000,
      1850, 1000, NO16, NO16, 1800, NO16, 1000, NO16, *[2000] * 16, 5100, 2800,
      10, 2000, 30, 400, 0, 0, 7, 1000)
