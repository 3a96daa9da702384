<CsoundSynthesizer>
<CsInstruments>
sr = 48000
ksmps = 1
nchnls = 3
0dbfs = 1
; Filters of the program's own whose cutoff falls by 2.2 octaves to 250 Hz with 0.15 s: four first-order
; ones in series, a Butterworth filter of second order, and the four behind a square wave.
instr 1
  kpitch init 130.77
  ktime timeinsts
  kcutoff = 250 * powoftwo(2.2 * exp(-ktime / 0.15))
  asaw vco2 0.5, kpitch, 0
  asquare vco2 0.5, kpitch, 10
  afour tonex asaw, kcutoff, 4
  atwo butterlp asaw, kcutoff
  afourth tonex asquare, kcutoff, 4
  outch 1, afour, 2, atwo, 3, afourth
endin
</CsInstruments>
<CsScore>
i 1 0 0.6
e
</CsScore>
</CsoundSynthesizer>
