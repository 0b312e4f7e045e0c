"""Work on the job table: recordings in line become drafts, here or on other machines.

    intake.take(store, data, heading)   -> Job         a recording comes in, once
    Worker(store, make, name).step()                   lease -> hear -> draft -> done
    crew.Crew(home, make, workers)                     the same in N processes

`task` is the part that can run anywhere: it needs a recogniser and no store. `announcement`
reads what a mechanic says at the start of a recording instead of filling in a form.
"""
