"""Checks the form of the Kubernetes files against the fields of batch/v1 Job (Kubernetes API reference, v1.29; from memory, but
for backoffLimitPerIndex, which asks for Indexed and Never: KEP-3850), and runs the command of their containers, for each index,
on this machine.

usage: kubernetes.py EXAMPLES WORK
"""
import concurrent.futures, os, re, subprocess, sys
import yaml

examples, work = sys.argv[1:]


def documents(name):
    with open(os.path.join(examples, name)) as f:
        return list(yaml.safe_load_all(f))


def only(fields, known, where):
    unknown = set(fields) - set(known)
    assert not unknown, f"{where}: unknown fields {unknown}"


def check_job(job, where):
    only(job, ["apiVersion", "kind", "metadata", "spec"], where)
    assert (job["apiVersion"], job["kind"]) == ("batch/v1", "Job"), where
    assert re.fullmatch(r"[a-z0-9]([-a-z0-9]*[a-z0-9])?", job["metadata"]["name"]), where
    only(job["spec"], ["completionMode", "completions", "parallelism", "backoffLimit", "backoffLimitPerIndex", "podFailurePolicy", "template"], where)
    pod = job["spec"]["template"]["spec"]
    only(pod, ["restartPolicy", "terminationGracePeriodSeconds", "containers", "volumes"], where)
    assert pod["restartPolicy"] == "Never", where  # backoffLimitPerIndex and podFailurePolicy take no other
    (container,) = pod["containers"]
    only(container, ["name", "image", "command", "env", "resources", "volumeMounts"], where)
    assert all(isinstance(e["value"], str) for e in container.get("env", [])), where
    assert {m["name"] for m in container["volumeMounts"]} == {v["name"] for v in pod["volumes"]}, where
    return container


def run(container, index=None):
    """Runs the container's command with /piece in the place that this check has."""
    command = [word.replace("/piece/", work + "/") for word in container["command"]]
    environment = {**os.environ, "PATH": work + ":" + os.environ["PATH"]}
    environment.update({e["name"]: e["value"] for e in container.get("env", [])})
    if index is not None:
        environment["JOB_COMPLETION_INDEX"] = str(index)
    return subprocess.run(command, env=environment, check=True, capture_output=True, text=True).stdout


os.rename(os.path.join(work, "frames"), os.path.join(work, "frames-slurm"))
for name in ("columns.toml", "photos", "song.wav"):
    os.symlink(os.path.join(work, "piece", name), os.path.join(work, name))
claim, job = documents("kubernetes.yaml")
assert (claim["apiVersion"], claim["kind"]) == ("v1", "PersistentVolumeClaim")
assert claim["spec"]["accessModes"] == ["ReadWriteMany"]
container = check_job(job, "kubernetes.yaml")
spec = job["spec"]
shards = int(container["env"][0]["value"])
assert spec["completionMode"] == "Indexed" and spec["completions"] == spec["parallelism"] == shards
assert spec["backoffLimitPerIndex"] > 0
only(spec["podFailurePolicy"], ["rules"], "kubernetes.yaml")
for rule in spec["podFailurePolicy"]["rules"]:
    only(rule, ["action", "onExitCodes", "onPodConditions"], "kubernetes.yaml")
    assert rule["action"] in ("FailJob", "FailIndex", "Ignore", "Count") and len(rule) == 2
assert spec["template"]["spec"]["volumes"][0]["persistentVolumeClaim"]["claimName"] == claim["metadata"]["name"]
with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pods:
    list(pods.map(lambda index: run(container, index), range(shards)))
(after,) = documents("kubernetes-verify.yaml")
print(run(check_job(after, "kubernetes-verify.yaml")), end="")
