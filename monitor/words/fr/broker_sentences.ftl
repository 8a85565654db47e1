# Le courtier : ses utilisateurs, ses certificats, ses fichiers.

file-cannot-be-changed-why-nothing-was-changed-to-mend-give-the-command-as-the-user-who-owns-the-settings-or-with-sudo =
    { $file } ne peut pas être modifié : { $why } ; rien n’a été changé. Pour corriger : donner la commande en tant qu’utilisateur à qui les réglages appartiennent, ou avec sudo
file-cannot-be-read-why-to-mend-run-this-as-the-user-who-owns-that-file =
    { $file } ne peut pas être lu : { $why }. Pour corriger : lancer ceci en tant qu’utilisateur à qui ce fichier appartient
file-is-not-there-to-mend-rearing-monitor-broker-setup-on-the-computer-of-the-broker =
    { $file } n’existe pas. Pour corriger : `rearing-monitor broker setup` sur l’ordinateur du courtier
file-there-is-a-user-name-already-nothing-was-changed-to-mend-choose-another-name-or-give-that-board-a-new-card-with-rearing-monitor-board-replace-name =
    { $file } : il y a déjà un utilisateur "{ $name }" ; rien n’a été changé. Pour corriger : choisir un autre nom, ou donner à cette carte une nouvelle fiche avec `rearing-monitor board replace { $name }`
file-was-not-written-by-this-program-and-nothing-was-changed-to-mend-move-it-away-then-rearing-monitor-broker-setup =
    { $file } n’a pas été écrit par ce programme, et rien n’a été changé. Pour corriger : le mettre ailleurs, puis `rearing-monitor broker setup`
file-why-nothing-was-changed-to-mend-put-the-right-file-back-from-a-copy-or-make-a-new-ca-with-rearing-monitor-broker-setup-new-ca-then-every-board-needs-a-new-card =
    { $file } { $why } ; rien n’a été changé. Pour corriger : remettre le bon fichier depuis une copie, ou faire une nouvelle autorité avec `rearing-monitor broker setup --new-ca` ; chaque carte a alors besoin d’une nouvelle fiche
has-expired-on-day = a expiré le { $day }
holds-only-from-day-on = ne vaut qu’à partir du { $day }
is-missing-beside-the-other-half-of-the-farm-s-ca = manque à côté de l’autre moitié de l’autorité de la ferme
is-not-a-certificate = n’est pas un certificat
is-not-a-p-256-key = n’est pas une clé P-256
is-not-a-private-key-without-a-password = n’est pas une clé privée sans mot de passe
is-not-the-key-of-certificate = n’est pas la clé de { $certificate }
name-cannot-be-the-name-of-a-board-allowed-up-to-40-letters-digits-and-without-a-space-such-as-node-07 =
    "{ $name }" ne peut pas être le nom d’une carte ; permis : jusqu’à 40 lettres, chiffres et _ . - sans espace, comme node-07
name-is-a-name-that-the-monitor-needs-itself-allowed-another-such-as-node-07 =
    "{ $name }" est un nom dont le moniteur a besoin lui-même ; permis : un autre, comme node-07
name-is-no-name-or-address-of-a-computer-allowed-such-as-farm-pc-local-or-192-168-1-20 =
    "{ $name }" n’est ni le nom ni l’adresse d’un ordinateur ; permis : comme farm-pc.local ou 192.168.1.20

# Mettre mosquitto en place.

mosquitto-is-not-installed-to-mend-sudo-apt-install-mosquitto =
    mosquitto n’est pas installé. Pour corriger : sudo apt install mosquitto
path-does-not-say-which-version-of-mosquitto-it-is-to-mend-install-that-of-your-system-sudo-apt-install-mosquitto-path-h-has-to-begin-with-mosquitto-version-2 =
    { $path } ne dit pas quelle version de mosquitto il est. Pour corriger : installer celui du système (sudo apt install mosquitto) ; `{ $path } -h` doit commencer par : mosquitto version 2
mosquitto-version-is-too-old-its-files-look-different-to-mend-install-mosquitto-2-0-or-newer =
    mosquitto { $version } est trop ancien : ses fichiers sont autres. Pour corriger : installer mosquitto 2.0 ou plus récent
mosquitto-version-was-never-tried-with-this-program-2-0-was-it-started-with-these-files-rearing-monitor-broker-test-shows-whether-it-does-what-it-should =
    mosquitto { $version } n’a jamais été essayé avec ce programme (2.0 l’a été). Il a démarré avec ces fichiers ; `rearing-monitor broker test` montre s’il fait ce qu’il doit
mosquitto-version-does-not-start-with-our-files-said-to-mend-install-mosquitto-2-0-of-your-system-sudo-apt-install-mosquitto =
    mosquitto { $version } ne démarre pas avec nos fichiers : { $said }. Pour corriger : installer le mosquitto 2.0 du système (sudo apt install mosquitto)
file-belongs-to-another-site-to-mend-see-site-id-in-the-settings =
    { $file } appartient à un autre site. Pour corriger : voir id de [site] dans les réglages
file-cannot-be-read-why-to-mend-give-the-command-with-sudo =
    { $file } ne peut pas être lu : { $why }. Pour corriger : donner la commande avec sudo
file-cannot-be-written-why-nothing-was-changed =
    { $file } ne peut pas être écrit : { $why } ; rien n’a été changé
file-does-not-read-the-folder-folder-to-mend-add-the-line-include-dir-folder-to-it =
    { $file } ne lit pas le dossier { $folder }. Pour corriger : y ajouter la ligne `include_dir { $folder }`
file-is-not-there-to-mend-sudo-apt-install-mosquitto-or-name-the-folder-of-its-configuration-with-etc =
    { $file } n’existe pas. Pour corriger : sudo apt install mosquitto ; ou nommer le dossier de sa configuration avec --etc
file-was-not-written-by-this-program-so-it-is-left-alone-to-mend-look-at-it-then-move-it-away-sudo-mv-file-file-off =
    { $file } n’a pas été écrit par ce programme et reste donc comme il est. Pour corriger : le regarder, puis le mettre ailleurs : sudo mv { $file } { $file }.off
the-broker-serves-the-site-other-already-file-yours-is-site-to-mend-see-site-id-in-the-settings-if-the-other-site-is-gone-move-its-files-away-sudo-mv-file-file-off =
    le courtier sert déjà le site "{ $other }" ({ $file }) ; le vôtre est "{ $site }". Pour corriger : voir id de [site] dans les réglages ; si l’autre site n’existe plus, mettre ses fichiers ailleurs : sudo mv { $file } { $file }.off
where-says-line-wanted-would-keep-more-and-was-left-to-you =
    { $where } dit `{ $line }` ; `{ $wanted }` garderait davantage, le choix vous est laissé
where-has-lines-that-would-stand-beside-ours-lines-another-door-or-mosquitto-does-not-start-to-mend-remedy =
    { $where } a des lignes qui seraient à côté des nôtres ({ $lines }) : une autre porte, ou mosquitto ne démarre pas. Pour corriger : { $remedy }
put-a-before-each = mettre un # devant chacune
move-the-file-away-sudo-mv-file-file-off = mettre le fichier ailleurs : sudo mv { $file } { $file }.off
remedy-lines-of-its-users-may-be-copied-into-users-afterwards =
    { $remedy } ; les lignes de ses utilisateurs peuvent être copiées ensuite dans { $users }
where-says-persistence-false-a-broker-that-is-restarted-forgets-what-waited-for-the-monitor-to-mend-put-a-before-that-line =
    { $where } dit `persistence false` : un courtier redémarré oublie ce qui attendait le moniteur. Pour corriger : mettre un # devant cette ligne
port-port-is-in-use-by-program-to-mend-stop-that-or-choose-another-port-with-port-or-boards-port =
    le port { $port } est pris par { $program }. Pour corriger : l’arrêter, ou choisir un autre port avec --port ou --boards-port
port-port-is-in-use-by-the-monitor-s-own-small-broker-to-mend-stop-the-monitor-first-sudo-systemctl-stop-rearing-monitor-or-ctrl-c-and-start-it-again-afterwards =
    le port { $port } est pris par le petit courtier du moniteur lui-même. Pour corriger : arrêter d’abord le moniteur (sudo systemctl stop rearing-monitor, ou Ctrl-C), et le redémarrer ensuite
another-program-sudo-ss-ltnp-shows-which = un autre programme (`sudo ss -ltnp` montre lequel)
name-process-number = { $name } (processus { $number })
you-may-not-write-in-place-nothing-was-written-to-mend-command =
    vous ne pouvez pas écrire dans { $place } ; rien n’a été écrit. Pour corriger : { $command }
nothing-was-written-to-write-it-give-the-command-again-with-yes-or-say-yes-at-a-terminal =
    rien n’a été écrit. Pour écrire : redonner la commande avec --yes, ou dire oui dans un terminal

# Prouver ce que fait le courtier.

the-monitor-s-own-small-broker-has-no-rules-for-each-board-so-there-is-nothing-to-prove-to-mend-install-mosquitto-then-rearing-monitor-broker-setup =
    le petit courtier du moniteur n’a pas de règles pour chaque carte, il n’y a donc rien à prouver. Pour corriger : installer mosquitto, puis `rearing-monitor broker setup`
the-settings-do-not-name-the-broker-s-files-broker-files-username-to-mend-rearing-monitor-broker-setup-on-the-computer-of-the-broker =
    les réglages ne nomment pas les fichiers du courtier ([broker] files, username). Pour corriger : `rearing-monitor broker setup` sur l’ordinateur du courtier
nothing-listens-at-where-to-mend-start-mosquitto-sudo-systemctl-restart-mosquitto-its-log-says-why-it-does-not-start =
    rien n’écoute à { $where }. Pour corriger : démarrer mosquitto (sudo systemctl restart mosquitto) ; son journal dit pourquoi il ne démarre pas
this-user-may-not-tell-mosquitto-to-read-its-users-again-so-nothing-can-be-tried-to-mend-give-the-command-with-sudo-or-let-systemd-do-it-rearing-monitor-broker-setup-reload-unit =
    cet utilisateur ne peut pas faire relire ses utilisateurs à mosquitto, rien ne peut donc être essayé. Pour corriger : donner la commande avec sudo, ou laisser faire systemd : `rearing-monitor broker setup --reload-unit`
the-broker-does-not-let-in-a-user-that-was-just-added-to-mend-command-and-see-that-mosquitto-runs-with-main =
    le courtier n’admet pas un utilisateur qui vient d’être ajouté. Pour corriger : { $command }, et voir que mosquitto tourne avec { $main }
a-board-does-not-get-in-at-the-door-for-boards-why-to-mend-restart-mosquitto-if-that-does-not-help-command =
    une carte n’entre pas par la porte des cartes : { $why }. Pour corriger : redémarrer mosquitto ; si cela n’aide pas : `{ $command }`
nothing-listens-there = rien n’y écoute
its-certificate-is-not-of-the-farm-s-ca = son certificat n’est pas de l’autorité de la ferme
its-certificate-does-not-bear-the-name-of-the-broker = son certificat ne porte pas le nom du courtier
it-does-not-speak-tls-there = il n’y parle pas TLS
it-hangs-up-see-mosquitto-s-own-log = il raccroche ; voir le journal de mosquitto
the-broker-fell-silent-in-the-middle-of-a-trial-see-whether-mosquitto-still-runs =
    le courtier s’est tu au milieu d’un essai ; voir si mosquitto tourne encore
it-must-be-so-wanted-but-it-is-not-to-mend-remedy =
    il doit en être ainsi : { $wanted } ; mais ce n’est pas le cas. Pour corriger : { $remedy }
it-must-be-so-wanted-but-it-was-let-in-to-mend-remedy =
    il doit en être ainsi : { $wanted } ; mais l’entrée a été permise. Pour corriger : { $remedy }
it-must-be-so-wanted-but-nobody-answers-at-port-port =
    il doit en être ainsi : { $wanted } ; mais personne ne répond au port { $port }
run-rearing-monitor-broker-setup-again-which-mends-the-access-rules =
    relancer `rearing-monitor broker setup`, qui remet les règles d’accès en état
run-rearing-monitor-broker-setup-again-and-see-whether-another-file-in-conf-d-opens-this-door =
    relancer `rearing-monitor broker setup`, et voir si un autre fichier de conf.d ouvre cette porte
take-use-username-as-clientid-away-from-the-listener-at-port-port-or-run-rearing-monitor-broker-setup-which-gives-the-monitor-a-listener-of-its-own =
    enlever use_username_as_clientid du listener au port { $port }, ou lancer `rearing-monitor broker setup`, qui donne au moniteur son propre listener
port-port-who-gives-no-user-name-is-refused = port { $port } : qui ne donne pas de nom d’utilisateur est refusé
port-port-a-wrong-password-is-refused = port { $port } : un mot de passe faux est refusé
port-port-an-unknown-user-is-refused = port { $port } : un utilisateur inconnu est refusé
port-port-what-is-not-encrypted-is-refused = port { $port } : ce qui n’est pas chiffré est refusé
port-port-takes-passwords-that-are-not-encrypted-to-mend-remedy =
    le port { $port } prend des mots de passe non chiffrés. Pour corriger : { $remedy }
port-port-the-monitor-may-have-a-second-connection = port { $port } : le moniteur peut avoir une seconde connexion
a-board-that-trusts-another-ca-does-not-speak-to-this-broker =
    une carte qui se fie à une autre autorité ne parle pas à ce courtier
a-board-that-trusts-another-ca-spoke-to-this-broker-to-mend-remedy =
    une carte qui se fie à une autre autorité a parlé à ce courtier. Pour corriger : { $remedy }
a-board-that-asks-for-another-name-does-not-speak-to-this-broker =
    une carte qui demande un autre nom ne parle pas à ce courtier
the-broker-s-certificate-bears-any-name-to-mend-remove-server-pem-from-the-folder-boards-then-run-rearing-monitor-broker-setup-again =
    le certificat du courtier porte n’importe quel nom. Pour corriger : enlever server.pem du dossier boards, puis relancer `rearing-monitor broker setup`
what-a-board-sends-comes-to-the-monitor = ce qu’une carte envoie arrive au moniteur
a-board-s-message-to-itself-arrives = le message d’une carte à elle-même arrive
what-the-monitor-says-to-a-board-arrives = ce que le moniteur dit à une carte arrive
a-board-that-speaks-as-another-board-is-not-heard = une carte qui parle au nom d’une autre n’est pas entendue
a-board-that-speaks-as-the-monitor-or-as-nobody-is-not-heard =
    une carte qui parle au nom du moniteur, ou de personne, n’est pas entendue
a-board-cannot-read-what-another-sends = une carte ne peut pas lire ce qu’une autre envoie
a-board-cannot-throw-another-off-by-its-client-id =
    une carte ne peut pas en chasser une autre en prenant son client_id

# Aide.

the-broker-set-mosquitto-up-for-boards-and-prove-that-it-keeps-them-apart =
    Le courtier : mettre mosquitto en place pour les cartes, et prouver qu’il les sépare.
set-mosquitto-up-on-this-computer-encryption-users-rules-that-keep-boards-apart-nothing-forgotten =
    Mettre mosquitto en place sur cet ordinateur : chiffrement, utilisateurs, règles qui séparent les cartes, rien d’oublié.
it-says-what-it-will-write-and-asks-first-old-files-are-kept-beside-given-again-it-changes-nothing-or-mends-only-what-is-missing =
    La commande dit ce qu’elle va écrire et demande d’abord ; les anciens fichiers sont gardés à côté. Redonnée, elle ne change rien, ou ne répare que ce qui manque.
prove-against-the-running-broker-that-boards-are-kept-apart-and-heard =
    Prouver, contre le courtier qui tourne, que les cartes sont séparées et entendues.
for-that-it-adds-two-users-and-takes-them-away-again-ends-with-4-when-one-of-the-trials-fails =
    Pour cela elle ajoute deux utilisateurs, et les enlève ensuite. Se termine par 4 si un essai échoue.
folder-of-mosquitto-s-configuration-without-it-that-of-the-settings-else-etc-mosquitto = Dossier de la configuration de mosquitto. Sans cette option : celui des réglages, sinon /etc/mosquitto.
folder-of-systemd-s-units-for-reload-unit = Dossier des unités de systemd, pour --reload-unit.
a-name-or-address-under-which-boards-find-this-computer-once-for-each-first-the-best-without-it-they-are-found =
    Nom ou adresse où les cartes trouvent cet ordinateur ; une fois pour chacun, le meilleur d’abord. Sans cela ils sont trouvés.
port-for-the-monitor-on-this-computer-alone = Port pour le moniteur, sur cet ordinateur seulement.
port-for-boards-encrypted = Port pour les cartes, chiffré.
make-a-new-ca-then-every-board-needs-a-new-card = Faire une nouvelle autorité ; chaque carte a alors besoin d’une nouvelle fiche.
let-systemd-tell-mosquitto-when-boards-come-and-go-so-that-the-monitor-needs-no-rights-of-root =
    Laisser systemd prévenir mosquitto quand des cartes viennent et partent : le moniteur n’a alors pas besoin des droits de root.
ask-nothing = Ne rien demander.

# Ce que `check` en dit.

file-is-missing-to-mend-command = { $file } manque. Pour corriger : { $command }
mosquitto-has-another-certificate-than-the-one-in-folder-to-mend-command =
    mosquitto a un autre certificat que celui de { $folder }. Pour corriger : { $command }
the-access-rules-in-file-are-not-those-of-this-site-to-mend-command =
    les règles d’accès de { $file } ne sont pas celles de ce site. Pour corriger : { $command }
the-broker-does-not-know-the-monitor-itself-to-mend-command =
    le courtier ne connaît pas le moniteur lui-même. Pour corriger : { $command }
the-broker-does-not-know-these-boards-and-lets-none-of-them-in-boards-to-mend-for-the-first-command =
    le courtier ne connaît pas ces cartes et n’en admet aucune : { $boards }. Pour corriger, pour la première : { $command }
the-broker-lets-the-monitor-have-one-connection-only-use-username-as-clientid-at-port-port-while-the-database-refuses-it-needs-two-to-mend-take-that-line-away-from-the-listener-at-that-port-or-rearing-monitor-broker-setup-which-gives-the-monitor-a-listener-of-its-own =
    le courtier ne permet qu’une connexion au moniteur (use_username_as_clientid au port { $port }) ; tant que la base de données refuse, il lui en faut deux. Pour corriger : enlever cette ligne du listener à ce port, ou `rearing-monitor broker setup`, qui donne au moniteur son propre listener
the-broker-s-certificate-is-missing-ends-soon-or-does-not-bear-all-names-of-this-computer-names-to-mend-command =
    le certificat du courtier manque, finit bientôt, ou ne porte pas tous les noms de cet ordinateur ({ $names }). Pour corriger : { $command }
the-embedded-broker-is-for-a-first-evening-it-has-no-rules-for-each-board-so-that-any-board-can-speak-as-any-other-and-it-keeps-nothing-over-a-restart-what-boards-send-meanwhile-is-lost-unless-they-keep-it-for-good-install-mosquitto-then-rearing-monitor-broker-setup =
    le courtier intégré est fait pour un premier soir : il n’a pas de règles pour chaque carte, chacune peut donc parler au nom d’une autre, et il ne garde rien lors d’un redémarrage : ce que les cartes envoient entre-temps est perdu, sauf si elles le gardent. Pour de bon : installer mosquitto, puis `rearing-monitor broker setup`.
the-users-of-a-trial-that-was-ended-in-the-middle-are-still-there-to-mend-rearing-monitor-broker-test =
    les utilisateurs d’un essai interrompu sont encore là. Pour corriger : rearing-monitor broker test
the-settings-name-a-broker-on-another-computer-host-from-now-on-the-monitor-listens-to-the-one-on-this-computer-alone =
    les réglages nomment un courtier sur un autre ordinateur, { $host } ; désormais le moniteur n’écoute que celui de cet ordinateur
file-is-missing-to-mend-put-the-folder-folder-back-from-its-copy-without-one-rearing-monitor-broker-setup-makes-it-anew-and-then-every-board-needs-a-new-card =
    { $file } manque. Pour y remédier : remettre le dossier { $folder } depuis sa copie ; à défaut, `rearing-monitor broker setup` le refait, et chaque carte a alors besoin d’une nouvelle fiche
port-port-the-monitor-itself-user-is-refused-the-broker-has-another-password-for-it-than-the-settings-name-to-mend-rearing-monitor-broker-setup =
    port { $port } : le moniteur lui-même ({ $user }) est refusé : le courtier a pour lui un autre mot de passe que celui des réglages. Pour y remédier : `rearing-monitor broker setup`
