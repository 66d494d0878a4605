/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Conversions between the units people use and SI. Conversion happens at the edges only: files,
 * command line, speech. Inside, everything is SI and the unit stands in the name.
 *
 * Exact factors: NIST SP 811 (2008), Appendix B.8: mile 1609.344 m, foot 0.3048 m, pound
 * 0.45359237 kg, mechanical horsepower (550 ft lbf/s) 745.69987158227022 W, pound-force
 * 4.4482216152605 N, British thermal unit (International Table) 1055.05585262 J. */
#ifndef TD_UNITS_H
#define TD_UNITS_H

#define TD_GRAVITY_MPS2 9.80665 /* standard gravity, NIST SP 811 B.8 */
#define TD_PI           3.14159265358979323846

#define TD_M_PER_MI     1609.344
#define TD_M_PER_FT     0.3048
#define TD_KG_PER_LB    0.45359237
#define TD_W_PER_HP     745.69987158227022
#define TD_N_PER_LBF    4.4482216152605
#define TD_J_PER_BTU    1055.05585262
#define TD_S_PER_HOUR   3600.0
#define TD_MPS_PER_MPH  (TD_M_PER_MI / TD_S_PER_HOUR)
#define TD_MPS_PER_KMH  (1000.0 / TD_S_PER_HOUR)

#define TD_NS_PER_MS    1000000LL
#define TD_NS_PER_S     1000000000LL

static inline double td_mps_from_mph(double mph) { return mph * TD_MPS_PER_MPH; }
static inline double td_mph_from_mps(double mps) { return mps / TD_MPS_PER_MPH; }
static inline double td_mps_from_kmh(double kmh) { return kmh * TD_MPS_PER_KMH; }
static inline double td_kmh_from_mps(double mps) { return mps / TD_MPS_PER_KMH; }
static inline double td_m_from_mi(double mi) { return mi * TD_M_PER_MI; }
static inline double td_mi_from_m(double m) { return m / TD_M_PER_MI; }
static inline double td_m_from_ft(double ft) { return ft * TD_M_PER_FT; }
static inline double td_ft_from_m(double m) { return m / TD_M_PER_FT; }
static inline double td_kg_from_lb(double lb) { return lb * TD_KG_PER_LB; }
static inline double td_lb_from_kg(double kg) { return kg / TD_KG_PER_LB; }
static inline double td_w_from_hp(double hp) { return hp * TD_W_PER_HP; }
static inline double td_hp_from_w(double w) { return w / TD_W_PER_HP; }
static inline double td_c_from_f(double f) { return (f - 32.0) / 1.8; }
static inline double td_f_from_c(double c) { return c * 1.8 + 32.0; }
static inline double td_rad_from_deg(double deg) { return deg * (TD_PI / 180.0); }
static inline double td_deg_from_rad(double rad) { return rad * (180.0 / TD_PI); }
static inline double td_s_from_ns(long long ns) { return (double)ns * 1e-9; }

#endif
