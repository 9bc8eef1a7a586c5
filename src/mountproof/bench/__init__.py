"""What a caliper, a scale and a clock see: instrument, pin, marks, stone, luting."""
