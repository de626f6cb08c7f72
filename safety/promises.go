package safety

// Promise is an invariant of docs/assessor.md: what must always hold, and by
// which tests it is held.
type Promise struct {
	Number  uint8
	Holds   string
	Checked string   // where a broken one is seen
	Tests   []string // named tests; a test holds the names to exist
}

// Promises is the one list of invariants. Numbers 1 to 17 are fixed; later
// ones are added behind.
var Promises = [...]Promise{
	{1, "Fuel open implies flame proven, or the ignition trial running (3 s at most), or its proof, or the " +
		"flame-failure response (1 s at most, filter included). Igniter off in run.",
		"exploration, watch, campaign", []string{"TestExploreBurner", "TestLightUp", "TestFailedTrialLocksOut"}},
	{2, "Oxygen opens after 1 s of unbroken flame and outlives it by the response at most.",
		"exploration, watch, campaign", []string{"TestExploreBurner", "TestLightUp"}},
	{3, "Unburnt fuel, from the unfiltered flame signal, valve closing included: at most 4 s in any 30 s.",
		"exhaustively over all patterns, watch, campaign (from the plant's truth)",
		[]string{"TestExploreUnburntBudget", "TestUnburntBudget"}},
	{4, "Emergency stop: every energising output off in the warden's next tick behind its filter of 5 ms, whatever " +
		"else happens; no automatic retract.", "exploration, watch, campaign", []string{"TestExploreProduct", "TestEmergencyStop", "TestExploreFilter"}},
	{5, "Lockout: energising outputs off until an edge of the local RESET; it survives power loss; no message " +
		"clears it.", "exploration, watch, campaign",
		[]string{"TestExploreLatch", "TestLockoutSurvivesPowerLoss", "TestRunningMarker", "TestResetNeedsAnEdge"}},
	{6, "No automatic relight: each light-up needs a START of its own.", "exploration, watch, campaign",
		[]string{"TestExploreBurner", "TestNoSecondLightUp"}},
	{7, "START counts only as an edge with the door closed, armed by a live lease, seen released before, within " +
		"60 s; one start consumes it; complete, stop, hold, trip, reset, power-up and a new session void it. " +
		"Within a cycle an opened door, hands at the moulds, a pause and a hold take motion and heat back until " +
		"a fresh START; unarmed, the host opens nothing.",
		"exploration, watch", []string{"TestExploreLink", "TestStartEdge", "TestRestartNeedsItsOwnStart",
			"TestNothingMovesUntilStart", "TestStartWantsTheDoorClosed", "TestHandsAnswerIsStartAtTheRig",
			"TestResumeWantsStart", "TestHostOpensNothingUnarmed"}},
	{8, "Each permission has its own lease, dead 500 ms after the last valid frame that renewed it.",
		"exploration, watch, campaign", []string{"TestExploreLeases", "TestLeaseExpiry"}},
	{9, "The press leaves open only with the door closed (or two hands held), spindle in its press state, " +
		"burner out of the way, travel and force readable and a glass temperature in the window; all but " +
		"temperature hold until contact.", "exploration, watch, campaign",
		[]string{"TestExplorePress", "TestStrokePermits", "TestTwoHandStroke", "TestBlindStroke"}},
	{10, "Flame at the blank implies press open and spindle turning, and ends by itself; fuel open implies extraction, " +
		"whose switch was seen at rest since fuel was last open; the burner comes in only with the press open.",
		"exploration, watch, campaign", []string{"TestExploreProduct", "TestExploreBurner", "TestSharpFlameEnds",
			"TestStuckExtractionSwitchRefusesLightUp"}},
	{11, "Sequenced: oxygen first, fuel within 1 s. Shut: both in one tick.", "exploration, watch, campaign",
		[]string{"TestExploreBurner", "TestNormalShutDown"}},
	{12, "Causes combine by the strongest reaction of each column, never by the last rule. A cause of the " +
		"supervisor never locks out.", "all pairs against a table typed by hand, exploration, watch",
		[]string{"TestAllPairsCombineToTheStrongest", "TestMatrixEqualsTheOneTypedByHand", "TestStrongestIsALattice",
			"TestSupervisorNeverLocksOut"}},
	{13, "Telemetry and network input can never raise an output; retained commands are ignored.",
		"by the type, which has no way back, and against two brokers",
		[]string{"TestSV063NoWayBack", "TestSV063CommandsAreIgnored"}},
	{14, "Wall-clock jumps, a dead broker, a full disk or a slow page leave the outputs of a cycle identical.",
		"request for request, with a twin that breaks it", []string{"TestInvariant14BrokenReceiversLeaveTheRequestsAlone",
			"TestSV065WallClockJumpsLeaveTheRequestsAlone", "TestJournalFaultChangesNoOutput", "TestBrokenHostsAreCaught"}},
	{15, "Every trip records exactly one first cause; the rest are consequences.", "exploration, watch, campaign",
		[]string{"TestExploreLatch"}},
	{16, "A cycle whose start record was committed always ends in the journal, after kill -9 and power loss too.",
		"every file operation failing or killed, random kills of the daemon",
		[]string{"TestEveryFileOperationFails", "TestKilledAtAnyMoment", "TestKilledAtRandomMoments"}},
	{17, "From every reachable state, with faults gone and the operator acting correctly, idle is reached again; " +
		"one hand opens the press in every state with drive power, a running stroke ends first.",
		"exploration, each simulated trace, campaign", []string{"TestExploreProduct", "TestInvariantsOnSimulatedTraces",
			"TestOneHandOpens", "TestOpenButtonEndsAStroke"}},
	{18, "In set-up nothing of a cycle runs; hold-to-run is slow (10 mm/s, 50 rpm); closing and turning keep both " +
		"hands with the door open.", "exploration, watch", []string{"TestSetUpMovesUnderTwoHands", "TestSetUpTurnsSlowly", "TestSetUpEndsACycle"}},
	{19, "What must stay on stays on: soft glass creeps for its whole time, whatever is asked or lost meanwhile; a " +
		"spindle and a flame that are asked for and that no row takes; a running fan after a leak and for the whole " +
		"post-purge; the brake of a press that nothing drives; horn and lamp.", "exploration, watch, campaign",
		[]string{"TestExploreSpindle", "TestCreepIsKept", "TestBrokenWardensFail"}},
	{20, "Each light-up follows a purge of its whole time, extraction proven.", "watch, second opinion",
		[]string{"TestInvariantsOnHostileInputs", "TestShortPurgeIsFound", "TestShortPurgeEndsTheCycle"}},
	{21, "What the board says agrees: outputs with phases, latch with causes, causes with what comes in, and all " +
		"with what was asked.", "watch, second opinion",
		[]string{"TestInvariantsOnHostileInputs", "TestLyingWardenIsFound", "TestSoundWardenIsBelieved"}},
	{22, "What flows is what was asked in the last one to two seconds, and nothing flows unasked; a flame burns 8 h at " +
		"most before a light-off proves its sensor.", "exploration, campaign", []string{"TestExploreFlow",
		"TestFlowsAreHeldToWhatIsAsked", "TestUnaskedFlowLocksOut", "TestRatioOutsideItsWindow", "TestLongRunEndsInALightOff"}},
	{23, "After a flame lost in contact the halves part by themselves: eased, after their time, slowly, under the pull " +
		"limit, the door closed and travel and force felt; never with closing force.", "exploration, campaign",
		[]string{"TestExplorePress", "TestParting", "TestPartingStopsWhereItSticks"}},
}

// Figure is what a proof said when it was last run, typed from its output.
type Figure struct {
	Command string
	Date    string
	Says    string
}

// before marks a figure that was taken of an older warden and says nothing of
// what has been added since.
const before = "of the warden before rows 43 to 52, the START awaited within a cycle and the leak's horn, fan and lamp, the flows, the filter and parting; not run since: "

// Figures are the last figures of the longer proofs.
var Figures = [...]Figure{
	{"make explore", "2026-11-25", before + "burner 32,154,294 states, 664 M transitions, depth 75,998; link 59,752,002, 659 M, 60,000; " +
		"spindle 361,005, 111 M, 120,001; press standing 19,622, 88.5 M, turning 19,622, 140 M, 1,004; latch 12,652 over 528 singles and pairs; product of " +
		"all five 11,699,328, 142 M, 52; with two hands 6,975,059, 53 M, 63; 3,967 ms of unburnt fuel at most in any 30 s"},
	{"go run ./safety/mutants -with rules", "2026-11-25", before + "killed 2001 of 2001; equivalents 0"},
	{"make campaign", "2026-11-25", before + "3,000 singles, 792 pairs, 10,000 random compounds: 13,792 runs, 0 wrong; 391.8 h of virtual time"},
	{"make crash", "2026-11-25", "1,326 failing or killed file operations, 200 kills of the daemon; run in parts"},
	{"make parsers FUZZTIME=10m", "2026-11-25", "seven targets, 10.6 million inputs in 70 minutes, nothing found that still stands"},
}
