"""Asks a route of a job as the page does."""


def post(client, job, path, **body):
    """Send JSON to a route of a job."""
    return client.post(f"/api/job/{job.name}/{path}", json=body)


def message(answer):
    """Give the sentence of an answer that is an error."""
    return answer.json()["message"]
