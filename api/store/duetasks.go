package store

// dueTasks, in the order they are run at one moment.
var dueTasks = []dueTask{
	orderBysPassed,
}
