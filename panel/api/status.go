package api

// Frame is one moment of the rig: what the daemon does, the newest values, and
// the records since the frame before.
type Frame struct {
	Version  int       `json:"version"`
	Rig      string    `json:"rig"`
	Status   Status    `json:"status"`
	Snapshot *Snapshot `json:"snapshot,omitempty"` // absent while the link is down
	Records  []Record  `json:"records,omitempty"`  // of a follower: since its last frame
	Missed   uint64    `json:"missed,omitempty"`   // records that this follower was too slow for

	ProofsDue []string `json:"proofs_due,omitempty"` // proof tests that are due, overdue or failed
}

// Status is what the supervisor does and waits for.
type Status struct {
	State      string   `json:"state"` // as controller.State
	Cycle      uint32   `json:"cycle,omitempty"`
	Run        uint32   `json:"run,omitempty"`
	Piece      uint16   `json:"piece,omitempty"`
	Recipe     string   `json:"recipe,omitempty"`
	Phase      int      `json:"phase"` // index in the recipe, -1 outside
	PhaseName  string   `json:"phase_name,omitempty"`
	PhaseKind  string   `json:"phase_kind,omitempty"`
	Doing      string   `json:"doing,omitempty"` // what the machine waits for
	PhaseS     float64  `json:"phase_s"`         // in this phase
	LeftS      *float64 `json:"left_s"`          // expected until it ends, null unknown
	CycleS     float64  `json:"cycle_s"`         // since the start
	Prompt     *Prompt  `json:"prompt,omitempty"`
	Notice     string   `json:"notice,omitempty"` // told to the operator; no answer is wanted
	Armed      bool     `json:"armed"`            // the START button at the rig counts
	Refired    bool     `json:"refired,omitempty"`
	Reason     string   `json:"reason,omitempty"` // of the last hold, stop, abort or refusal
	FirstCause *Cause   `json:"first_cause,omitempty"`
	Lock       string   `json:"lock"` // none | hold | abort | lockout
	Alarms     []Cause  `json:"alarms,omitempty"`
	AckNeeded  bool     `json:"ack_needed,omitempty"`
	Line       string   `json:"line,omitempty"` // what is wrong with the line to the rig
	// Contradiction is the number of what the board said that cannot be so, see
	// docs/assessor.md; it stands until a person has seen to it.
	Contradiction uint8 `json:"contradiction,omitempty"`
}

// Prompt is a question to the operator; it is answered by its number.
type Prompt struct {
	Number uint16 `json:"number"`
	Text   string `json:"text"`
}

// Cause is a row of the cause-and-effect matrix.
type Cause struct {
	Row  uint8  `json:"row"`
	Text string `json:"text"`
}

// Snapshot has the newest values of the rig. A null value is one that the rig
// does not vouch for: not fitted, wire broken, or out of range.
type Snapshot struct {
	StampMs uint32 `json:"stamp_ms"` // the microcontroller's clock
	AgeMs   int64  `json:"age_ms"`   // since the daemon had it

	GlassC         *float64 `json:"glass_C"`
	GlassSeen      bool     `json:"glass_seen"` // the thermometer's view is free: believe glass_C
	MouldLowerC    *float64 `json:"mould_lower_C"`
	MouldUpperC    *float64 `json:"mould_upper_C"`
	TravelMM       *float64 `json:"travel_mm"` // from fully open, grows while closing
	ForceN         *float64 `json:"force_N"`   // positive pressing
	SpindleRPM     *float64 `json:"spindle_rpm"`
	FuelLMin       *float64 `json:"fuel_L_min"`
	OxygenLMin     *float64 `json:"oxygen_L_min"`
	FuelBar        *float64 `json:"fuel_pressure_bar"`
	OxygenBar      *float64 `json:"oxygen_pressure_bar"`
	Inputs         []string `json:"inputs"`  // the switches that are on, names of rig.Switches
	Outputs        []string `json:"outputs"` // what the warden drives
	Burner         string   `json:"burner"`  // phase of the warden's burner machine
	Press          string   `json:"press"`
	Spindle        string   `json:"spindle"`
	Link           string   `json:"link"`
	Flame          bool     `json:"flame"`
	DoorClosed     bool     `json:"door_closed"`
	EstopOK        bool     `json:"estop_ok"`
	BurnerClear    bool     `json:"burner_clear"`
	BurnerAtBlank  bool     `json:"burner_at_blank"`
	PressTouching  bool     `json:"press_touching"`
	PressHomed     bool     `json:"press_homed"`
	BadFrames      uint16   `json:"bad_frames"` // since the microcontroller's boot, wraps
	MissedRequests uint16   `json:"missed_requests"`
}

// Record is one line of a cycle's story, as it happens.
type Record struct {
	Number uint64  `json:"number"` // of the daemon's records, counted from its start
	AtS    float64 `json:"at_s"`   // the loop's clock
	Kind   string  `json:"kind"`
	Cycle  uint32  `json:"cycle,omitempty"`
	Phase  int     `json:"phase"`
	State  string  `json:"state,omitempty"`
	Name   string  `json:"name,omitempty"`
	Value  float64 `json:"value,omitempty"`
	Unit   string  `json:"unit,omitempty"`
	Reason string  `json:"reason,omitempty"`
	Cause  *Cause  `json:"cause,omitempty"`
	Lock   bool    `json:"lockout,omitempty"`
	Prompt uint16  `json:"prompt,omitempty"`
	By     string  `json:"by,omitempty"`      // as typed
	User   string  `json:"by_user,omitempty"` // as the kernel knows it
}
