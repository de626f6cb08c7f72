#include "limits.h"

static bool between(uint32_t v, uint32_t least, uint32_t most) { return v >= least && v <= most; }

static bool burner_holds(const warden_config *c) {
	return between(c->trial_ms, 500, 3000) && c->purge_ms >= 30000 && c->post_purge_ms >= 30000 &&
		c->check_ms >= 5000 && c->igniter_ms >= 500 && c->prove_ms >= 1000 && c->prove_dark_ms >= 1000 &&
		c->oxygen_after_ms >= 1000 && c->flame_off_ms <= 800 && c->flame_on_ms <= 500 &&
		c->valve_close_ms <= 1000 && (uint32_t)c->flame_off_ms + c->valve_close_ms <= 3000 &&
		(uint32_t)c->trial_ms + c->valve_close_ms <= 4000 && between(c->off_ms, 100, 1000) &&
		c->extraction_ms <= 1000 && c->park_ms <= UINT32_C(1800000);
}

static bool motion_holds(const warden_config *c) {
	return c->lease_ms <= 500 && c->arm_ms <= 60000 && c->creep_ms <= UINT32_C(120000) && c->ramp_ms <= 1000 &&
		c->ease_ms <= 1000 && c->hand_cmms <= 1000 && c->hands_ms <= 500 && c->set_up_drpm <= 400 &&
		c->sample_ms <= 200 && c->estimate_ms <= 2000 && c->spindle_stall_ms <= 2000 &&
		c->force_max_dn < c->over_force_dn && c->over_force_dn <= 0x7FFF && c->pull_max_dn <= 0x7FFF &&
		(uint32_t)c->ease_step_dn * c->ease_ms >= c->force_max_dn;
}

static bool flows_hold(const warden_config *c) {
	bool self_checking = (c->options & OPT_SELF_CHECKING) != 0;
	return between(c->flow_settle_ms, 100, 1000) && c->flow_off_ms <= 2000 && c->flow_off_pc <= 20 &&
		c->flow_off_ml <= 100 && c->flow_over_ms <= 500 && between(c->flow_over_pc, 100u + c->flow_off_pc, 150) &&
		c->flow_none_ml <= 200 && c->ratio_ms <= 2000 && c->ratio_high_pc <= 1000 &&
		c->ratio_low_pc <= c->ratio_high_pc && c->run_ms >= UINT32_C(60000) &&
		(self_checking || c->run_ms <= UINT32_C(86400000)) &&
		between(c->sharp_ms, UINT32_C(10000), UINT32_C(3600000));
}

static bool parting_holds(const warden_config *c) {
	return (c->options & OPT_PRESS_DRIVEN) == 0 ||
		(between(c->part_ms, 100, 10000) && between(c->part_cmms, 10, c->hand_cmms) && c->part_open_ms >= 1000);
}

// Without these no permit could be told from a missing wire.
#define ESSENTIAL (IN_ESTOP_OK | IN_DOOR_CLOSED | IN_FLAME | IN_EXTRACTION | IN_PRESS_OPEN | IN_START | IN_RESET | \
	IN_HOLD_OPEN)
#define BOTH_HANDS (IN_TWO_HAND_LEFT | IN_TWO_HAND_RIGHT)
#define BOTH_ENDS  (IN_BURNER_CLEAR | IN_BURNER_AT_BLANK)

static bool fitted_holds(const warden_config *c) {
	uint32_t in = c->fitted_in;
	uint32_t hands = in & BOTH_HANDS;
	bool fixed = (c->options & OPT_BURNER_FIXED) != 0;
	bool spindle = (c->options & OPT_SPINDLE_FITTED) != 0;
	bool driven = (c->options & OPT_PRESS_DRIVEN) != 0;
	return (in & ESSENTIAL) == ESSENTIAL && (hands == 0 || hands == BOTH_HANDS) &&
		((in & IN_HOLD_TURN) == 0 || (in & IN_SET_UP) != 0) && (fixed || (in & BOTH_ENDS) == BOTH_ENDS) &&
		((c->fitted_analog & 1u << AI_GLASS) != 0 || (in & IN_SOFT) != 0) &&
		(!spindle || (c->fitted_analog & 1u << AI_SPINDLE) != 0) &&
		(!driven || (c->fitted_analog & 1u << AI_FORCE) != 0);
}

bool limits_hold(const warden_config *c) { return burner_holds(c) && motion_holds(c) && flows_hold(c) && parting_holds(c) && fitted_holds(c); }
