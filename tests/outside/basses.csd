<CsoundSynthesizer>
<CsInstruments>
sr = 48000
ksmps = 1
nchnls = 4
0dbfs = 1
; Bass notes of other making than the rig's own: a saw and a pulse through a resonant ladder whose
; cutoff falls, two operators of frequency modulation, a triangle.
instr 1
  aamp linseg 0, 0.005, 0.5, p3 - 0.035, 0.3, 0.03, 0
  kcut expseg 2500, p3, 200
  asaw vco2 0.8, 65.41, 0
  apulse vco2 0.8, 82.41, 2, 0.3
  aladder moogladder asaw, kcut, 0.85
  aother moogladder apulse, kcut, 0.5
  kindex expseg 4, p3, 0.5
  afm foscili 0.8, 55, 1, 2, kindex
  atriangle vco2 0.8, 73.42, 12
  outch 1, aamp * aladder, 2, aamp * aother, 3, aamp * afm, 4, aamp * atriangle
endin
</CsInstruments>
<CsScore>
i 1 0.05 0.6
e 0.7
</CsScore>
</CsoundSynthesizer>
