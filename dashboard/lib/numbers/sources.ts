export interface Source {
  readonly work: string
  readonly for: string
  /** Not seen by us in full: quoted from an abstract, from other people's code, or from memory. */
  readonly caveat?: string
}

/** Where the definitions come from; signal/README.md has the formulas. */
export const SOURCES: readonly Source[] = [
  {
    work: 'Mancini et al. 2012, ISway, J. NeuroEng. Rehabil. 9:59',
    for: 'sway RMS, path, jerk, the 3.5 Hz filter (people)',
    caveat: 'abstract and table of definitions read; the filter from memory',
  },
  {
    work: 'Moe-Nilssen 1998, Clin. Biomech. 13:320–327',
    for: 'turning the axes by gravity',
    caveat: 'read in published code only',
  },
  {
    work: 'Skog et al. 2010, IEEE Trans. Biomed. Eng. 57:2657–2666',
    for: 'the idea of the hold detector; its limits are our own',
    caveat: 'abstract read; formulas from published code',
  },
  {
    work: 'Chew 1966, J. Am. Stat. Assoc. 61:605–617; Schubert & Kirchner 2014, Gait Posture 39:518–522; Duarte 2015, Gait Posture 41:44–45',
    for: 'the 95 % prediction ellipse',
    caveat: 'abstracts and published code read',
  },
  {
    work: 'Prieto et al. 1996, IEEE Trans. Biomed. Eng. 43:956–966',
    for: 'F50, F95, centroidal frequency',
    caveat: 'read through later papers and code',
  },
  { work: 'Welch 1967, IEEE Trans. Audio Electroacoust. 15:70–73', for: 'spectra' },
  {
    work: 'Künsch 1989, Ann. Stat. 17:1217–1241',
    for: 'the interval of sway (block bootstrap)',
    caveat: 'from memory',
  },
  {
    work: 'Aghapour et al. 2024, Front. Vet. Sci. 11:1353824',
    for: "pieces of 5 s: on pressure plates dogs' stance was repeatable over 5 to 15 s, not over 1 to 2 s",
  },
  {
    work: 'Wolszky et al. 2024, Vet. Sci. 11:498',
    for: 'dogs learning a moving platform over weeks',
  },
  {
    work: 'Sensors 2021, 21:1286 (horses)',
    for: 'less side-to-side sway in acute lameness: less is not by itself better',
    caveat: 'abstract read',
  },
  {
    work: 'Liatis et al. 2022, J. Vet. Intern. Med. 36:179–189',
    for: 'orthostatic tremor of dogs lies above 12 Hz',
  },
  {
    work: 'Elble et al. 2017, Mov. Disord. Clin. Pract. 4:205–211',
    for: 'a fall by about two thirds before tremor exceeds the noise of measuring (people)',
    caveat: 'abstract read',
  },
  {
    work: 'Crawford 1962',
    for: 'panting near the resonance of the airways, about 5.3 Hz',
    caveat: 'from memory',
  },
  { work: 'Sen 1968, J. Am. Stat. Assoc. 63:1379–1389', for: 'slopes of tiring and trends' },
  { work: 'Mann 1945, Econometrica 13:245–259', for: 'whether a trend is more than chance' },
  {
    work: 'Weir 2005, J. Strength Cond. Res. 19:231–240',
    for: 'the smallest detectable change',
    caveat: 'abstract read',
  },
]
