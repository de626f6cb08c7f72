package safety

// Notice is what this software is not. It stands wherever a person looks at a
// rig and could think otherwise.
const Notice = "This software is no safety device."
