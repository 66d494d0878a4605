/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Speech Intelligibility Index after ANSI S3.5-1997, written from the standard's equations and
 * numbers: one-third octave bands (clauses 4 and 5.1 to 5.8 with table 3) and octave bands (table
 * 4). Pure. How much of speech can be heard in a noise, 0 to 1: natural speech, ordinary ears; a
 * synthetic voice and a worn ear lie outside what it was made for, so our floors stand higher.
 *
 * Levels are SPECTRUM levels, dB re 20 uPa in a band one hertz wide, at the listener's place in a
 * free field; thresholds are dB hearing level, 0 for an ordinary ear. */
#ifndef TD_TESTS_SII_H
#define TD_TESTS_SII_H

enum { SII_THIRDS = 18, SII_OCTAVES = 6 };

extern const double sii_third_hz[SII_THIRDS]; /* 160 to 8,000 Hz */
extern const double sii_third_width_db[SII_THIRDS]; /* band level less this: spectrum level */
extern const double sii_third_importance[SII_THIRDS];
extern const double sii_third_short_passages[SII_THIRDS]; /* importance of table B.2 */
enum sii_effort { SII_NORMAL, SII_RAISED, SII_LOUD, SII_SHOUT };
/* The standard's speech at 1 m. */
extern const double sii_third_speech[SII_SHOUT + 1][SII_THIRDS];
extern const double sii_octave_importance[SII_OCTAVES];

/* Arrays of SII_THIRDS and of SII_OCTAVES numbers. importance NULL: average speech. */
double sii_third_octave(const double *speech, const double *noise, const double *threshold_hl,
                        const double *importance);
double sii_octave(const double *speech, const double *noise, const double *threshold_hl,
                  const double *importance);

/* Score of sentences (Connected Speech Test, ordinary ears) expected at an index, 0 to 1:
 * Sherbecoe and Studebaker 2003, read in a secondary source; straight lines between its points. */
double sii_sentence_score(double sii);

#endif
