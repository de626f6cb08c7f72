// What is proven of every step, for the contracts in the C files (/*@ and //@
// comments, the language of Frama-C). Macros, because the provers see through
// them; no C code uses one. O is the outputs' bits. firmware/README.md says
// what follows from it and what does not.
#ifndef WARDEN_PROOF_H
#define WARDEN_PROOF_H

// The causes that lock out: the same number as in last.c, which is proven too.
#define LOCKING_CAUSES 1128457568338682

#define STOP_OFF(in, O) ((((in)->bits & IN_ESTOP_OK) == 0) ==> \
	(((O) & (OUT_FUEL | OUT_OXYGEN | OUT_IGNITER | OUT_BURNER_IN | OUT_PRESS_CLOSE | OUT_PRESS_OPEN)) == 0))

#define LOCKOUT_OFF(s, O) (((s)->lock == LOCK_LOCKOUT) ==> (((O) & (OUT_FUEL | OUT_OXYGEN | OUT_IGNITER)) == 0))

#define LOCKED_BY_CAUSE(s) (((s)->lock == LOCK_LOCKOUT) <==> (((s)->trips & LOCKING_CAUSES) != 0))

#define STAYS_LOCKED(s, in) ((s)->lock == LOCK_LOCKOUT && ((s)->trips & LOCKING_CAUSES) != 0 && \
	!(((in)->bits & IN_RESET) != 0 && (s)->reset_seen != 0))

#define FUEL_LEASED(c, s, O) ((((O) & OUT_FUEL) != 0) ==> \
	((s)->lease_ms[0] < (c)->lease_ms || ((s)->burner == BURNER_OFF && (s)->phase_ms == 0)))

#define PRESS_LEASED(c, s, O) ((((O) & OUT_PRESS_CLOSE) != 0) ==> \
	((s)->press == PRESS_EASING || (s)->press == PRESS_HAND_CLOSE || (s)->lease_ms[2] < (c)->lease_ms))

#define OXYGEN_IN_RUN(c, s, O) ((((O) & OUT_OXYGEN) != 0) ==> \
	((s)->burner == BURNER_RUN && (s)->lease_ms[1] < (c)->lease_ms))

#define OXYGEN_INTO_FLAME(c, s, O) ((((O) & OUT_OXYGEN) != 0) ==> ((s)->flame_ms >= (c)->oxygen_after_ms))

#define SOUND(O) (!(((O) & OUT_PRESS_CLOSE) != 0 && ((O) & OUT_PRESS_OPEN) != 0) && \
	((((O) & OUT_OXYGEN) != 0) ==> (((O) & OUT_FUEL) != 0)) && \
	((((O) & OUT_FUEL) != 0) ==> (((O) & OUT_FUEL) == OUT_FUEL)))

#define DECAYED(s) ((s)->burner >= NUM_BURNER || (s)->press >= NUM_PRESS || (s)->spindle >= NUM_SPINDLE || \
	(s)->link >= NUM_LINK || (s)->lock > LOCK_LOCKOUT || (s)->first >= NUM_CAUSES || \
	(s)->started > 1 || (s)->wait > 1 || (s)->armed > 1 || (s)->oxygen > 1 || (s)->touching > 1)

#endif
