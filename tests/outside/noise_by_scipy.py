"""Noise and lines of a one-channel float WAV, by SciPy: flat and A-weighted rms volts from 20 Hz to
20 kHz, and the peak volts of the strongest line near a frequency.

Welch's method with half-overlapping Hann segments; A weighting from the analogue poles of
IEC 61672-1, annex E, as a frequency response; the line by a flat-top window."""
import sys

import numpy
from scipy import signal
from scipy.io import wavfile

rate, samples = wavfile.read(sys.argv[1])
near = float(sys.argv[2])
samples = samples.astype(float)

f, density = signal.welch(samples, rate, "hann", nperseg=rate // 2, detrend="constant")
poles = -2 * numpy.pi * numpy.array(
    [20.598997, 20.598997, 107.652649, 737.862231, 12194.217148, 12194.217148])
w, response = signal.freqs_zpk([0, 0, 0, 0], poles, 1.0, 2 * numpy.pi * f[1:])
_, at_1_khz = signal.freqs_zpk([0, 0, 0, 0], poles, 1.0, [2 * numpy.pi * 1000])
weight = numpy.abs(response / at_1_khz[0]) ** 2
band = (f >= 20) & (f <= 20000)
flat = numpy.sqrt(density[band].sum() * (f[1] - f[0]))
weighted = numpy.sqrt((density[1:] * weight)[band[1:]].sum() * (f[1] - f[0]))

window = signal.get_window("flattop", len(samples))
lines = 2 * numpy.abs(numpy.fft.rfft(samples * window)) / window.sum()
at = numpy.fft.rfftfreq(len(samples), 1 / rate)
print(flat, weighted, lines[numpy.abs(at - near) < 5].max())
