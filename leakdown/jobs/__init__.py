"""Jobs: plain folders that outlive the program. One folder a job, `DIR/REF`.

    job.json        the record: engine, complaint, tests, findings, repairs, verdicts; only ever added to
    recordings/     what came in, byte for byte, with its SHA-256 in the record
    report.html     the page for the customer and the next mechanic
    chart.png, chart.pdf, chart.svg

record, form (job.json), disk, store: what is kept, and how it is read and written.
complaint_answers, results, adding: what comes in.
job_verdict, story, customer_paragraph: what a record comes to.
tests_on_page, page, terminal: how it is shown. check: checksums, export. listing, trend: across jobs.
"""
