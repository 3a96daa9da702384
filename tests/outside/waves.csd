<CsoundSynthesizer>
<CsInstruments>
sr = 48000
ksmps = 48
nchnls = 4
0dbfs = 1
; Band-limited waves of the program's own making: saw, square, mean of both in phase, pulse of 40 %.
instr 1
  kpitch init 130.77
  asaw vco2 0.5, kpitch, 0
  asquare vco2 0.5, kpitch, 10
  alate vco2 0.5, kpitch, 10
  apulse vco2 0.5, kpitch, 2, 0.4
  outch 1, asaw, 2, asquare, 3, 0.5 * asaw + 0.5 * alate, 4, apulse
endin
</CsInstruments>
<CsScore>
i 1 0 0.4
e
</CsScore>
</CsoundSynthesizer>
