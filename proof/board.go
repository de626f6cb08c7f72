package proof

import (
	"pressrig/rig"
	"pressrig/safety/warden"
)

// still: nothing is driven that could hurt, and no light-up is under way.
func still(j *Judge) bool {
	return j.snap.Out&dangerous == 0 && (j.snap.Burner == warden.BurnerStandby ||
		j.snap.Burner == warden.BurnerPostPurge || j.snap.Burner == warden.BurnerLockout)
}

const restingS = 120

func lockoutMemory(*rig.Profile) Step {
	return Step{
		Title: "Lockout survives power loss",
		Cautions: []string{"Burner out. The emergency stop is only used to get a lockout.",
			"Take the power of the microcontroller away, not the mains of the rig alone."},
		Do: []string{"Push the emergency stop, release it, wait two seconds.",
			"Switch the microcontroller off and on again.", "Look whether the lockout stands."},
		See:   "lockout in the first snapshot after the restart",
		After: "RESET at the rig.",
		stages: []stage{
			ready(ActEstopPush, "push the emergency stop, unless a lockout stands already", "no lockout came of the emergency stop: "+
				"prove estop first", handS,
				func(j *Judge) bool { return j.snap.Lock == warden.LockLockout }),
			ready(ActEstopRelease, "release the emergency stop and wait two seconds",
				"the emergency stop was not released", handS, func(j *Judge) bool {
					if !j.snap.Has(warden.InEstopOK) {
						j.fromMs = j.snap.StampMs
					}
					j.memory.session = j.session
					return j.lookedMs() >= 2000
				}),
			{act: ActPowerCycle, says: "switch the microcontroller off and on again", longestS: workS,
				late: "the microcontroller was not restarted", ai: none, look: func(j *Judge) verdict {
					switch {
					case j.session == j.memory.session:
						return stay
					case j.snap.Lock != warden.LockLockout || !j.tripped(warden.CauseRestart):
						return failed("the lockout was gone after the power loss; it must stand until RESET " +
							"at the rig: the non-volatile memory does not hold its byte")
					}
					return next
				}},
		}}.weekly()
}

// quietMs without a snapshot is a silence: sixty snapshots.
const quietMs = 600

// leaseLimitMs: a lease of 500 ms, and the newest renewal may be younger than
// the newest snapshot that was seen by one interval of requests, 100 ms.
const leaseLimitMs = 600

func lease(*rig.Profile) Step {
	return Step{
		Title: "Lease expiry: the cable is pulled",
		Cautions: []string{"Flame burning: eye protection, extraction running, nobody in front of the burner.",
			"If the flame still burns two seconds after the cable is out, shut the cock at the supply.",
			"Pull the data line only: a board that takes its power through the cable restarts instead."},
		Do: []string{"Light up with the recipe that is armed for you: push START at the rig.",
			"Pull the cable while the flame burns; look that it goes out.", "Put it back within 20 seconds."},
		See:   "fuel off within the lease, the lost link among the trips",
		After: "cable in; acknowledge and reset; RESET at the rig if it is locked.",
		Limit: "500 ms after the newest request, seen to within one interval of requests (100 ms): at most 600 ms",
		Most:  leaseLimitMs, Unit: "ms",
		stages: []stage{unlocked(), lit(),
			{act: ActCableOut, says: "pull the data cable", longestS: handS,
				late: "the cable was not pulled while the flame burned", ai: none,
				look: func(j *Judge) verdict {
					if !j.snap.Drives(warden.OutFuel) {
						return undone("the flame was shut before the cable was pulled")
					}
					j.noteLit()
					return stay
				},
				silent: func(j *Judge) verdict {
					if j.quietMs() >= quietMs {
						return next
					}
					return stay
				}},
			{act: ActCableIn, says: "put the cable back within 20 seconds", longestS: workS,
				late: "the rig did not come back", ai: none, look: leaseVerdict},
		}}.weekly()
}

// leaseVerdict dates the shut-off by the time that the burner has spent in its
// post-purge since.
func leaseVerdict(j *Judge) verdict {
	s := &j.snap
	switch {
	case j.session != j.memory.session:
		return undone("the microcontroller restarted: pull the data line alone, and leave it its power")
	case s.StampMs-j.before.StampMs < leaseLimitMs:
		return undone("the cable was out for too short a time: pull it for two seconds at least")
	case s.Out&(warden.OutFuel|warden.OutOxygen) != 0:
		return failed("gas is still open after the cable was out; without requests it must shut within 500 ms")
	case s.Burner != warden.BurnerPostPurge:
		return undone("too late to tell when the gas was shut: put the cable back within 20 seconds")
	case !j.tripped(warden.CauseLinkLost):
		return undone("the gas was shut, but not for the lost link")
	}
	ms := s.StampMs - 10*uint32(s.PhaseCs) - j.memory.renewedMs
	j.measured(float64(ms))
	if ms > leaseLimitMs {
		return failed("gas stayed open for longer than the lease of 500 ms allows")
	}
	return next
}
