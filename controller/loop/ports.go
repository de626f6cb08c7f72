package loop

import (
	"pressrig/controller"
	"pressrig/rig"
)

// Machine is what the loop needs of controller.Machine: one step, pure. The
// loop reuses in and out, so the machine keeps neither.
type Machine interface {
	Step(in *controller.Input, out *controller.Output)
}

// Journal is what the loop needs of the journal. Nothing here waits: records
// and steps go into bounded queues. When the step queue is full steps are
// dropped and the gap is marked; records are never dropped.
type Journal interface {
	// Append takes a copy of one record. RecStart begins the cycle that was
	// prepared under its number; RecEnd closes it.
	Append(controller.Record)
	// AppendStep takes a copy of one step of the running cycle: its input and
	// the request it produced. Calls outside a cycle are ignored.
	AppendStep(*controller.Input, *rig.Request)
	// Health is what the newest commits showed.
	Health() controller.JournalHealth
}

// Publisher is what the loop tells to pages and telemetry. Nothing here waits;
// a publisher that is full drops its oldest channel values, never a record.
type Publisher interface {
	// Tell is called after every step. The snapshot is the step's own: nil when
	// none had come. Both are overwritten by the next step.
	Tell(*controller.Status, *rig.Snapshot)
	// Record is called once for each record, after the journal has it queued.
	Record(controller.Record)
}
