/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Conversions against NIST SP 811 (2008), Appendix B.8. */
#include "support/cm.h"

#include "talkdown/units.h"

static void agrees_with_nist_sp_811(void **state)
{
    (void)state;
    assert_near(td_mps_from_mph(1.0), 4.4704e-1, 1e-12);
    assert_near(td_mps_from_kmh(1.0), 2.777778e-1, 5e-8);
    assert_near(td_w_from_hp(1.0), 7.456999e2, 5e-5);
    assert_near(TD_N_PER_LBF, TD_KG_PER_LB * TD_GRAVITY_MPS2, 1e-12);
    assert_near(td_kg_from_lb(80000), 36287.3896, 1e-6);
    assert_near(td_m_from_mi(1), 5280 * TD_M_PER_FT, 1e-9);
}

static void goes_there_and_back(void **state)
{
    (void)state;
    assert_near(td_mph_from_mps(td_mps_from_mph(37)), 37, 1e-12);
    assert_near(td_f_from_c(td_c_from_f(500)), 500, 1e-10);
    assert_near(td_c_from_f(500), 260, 1e-12);
    assert_near(td_lb_from_kg(td_kg_from_lb(79900)), 79900, 1e-8);
    assert_near(td_deg_from_rad(td_rad_from_deg(270)), 270, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(agrees_with_nist_sp_811),
        cmocka_unit_test(goes_there_and_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
